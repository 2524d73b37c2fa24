-- Grain: one row per spell that a question asks for: filtered, on both clocks, with the columns it is not split by blanked.
CREATE OR REPLACE TEMP TABLE filtered_spell AS
SELECT
    CASE WHEN list_contains($by, 'family') THEN family END AS family,
    CASE WHEN list_contains($by, 'usage_class') THEN usage_class END AS usage_class,
    CASE WHEN list_contains($by, 'site') THEN site END AS site,
    CASE WHEN list_contains($by, 'stick') THEN stick END AS stick,
    CASE WHEN list_contains($by, 'sensor_type') THEN sensor_type END AS sensor_type,
    CASE WHEN list_contains($by, 'batch') THEN batch END AS batch,
    CASE WHEN list_contains($by, 'depth') THEN depth END AS depth,
    CASE WHEN list_contains($by, 'mechanism') THEN mechanism END AS mechanism,
    CASE WHEN list_contains($by, 'attempt_number') THEN attempt_number END AS attempt_number,
    spell_no, slot_no, life, module_no, failed_by, is_registered, is_failure, is_assumed, has_usable_hours,
    is_age_known_h, is_age_known_days, entry_h, entry_days, lower_h, lower_days, upper_h, upper_days, at_h, at_days
FROM described_spell
WHERE ($kind IS NULL OR kind = $kind)
    AND ($where_family IS NULL OR list_contains($where_family, family))
    AND ($where_usage_class IS NULL OR list_contains($where_usage_class, usage_class))
    AND ($where_site IS NULL OR list_contains($where_site, site))
    AND ($where_stick IS NULL OR list_contains($where_stick, stick))
    AND ($where_sensor_type IS NULL OR list_contains($where_sensor_type, sensor_type))
    AND ($where_batch IS NULL OR list_contains($where_batch, batch))
    AND ($where_depth IS NULL OR list_contains($where_depth, depth))
    AND ($where_mechanism IS NULL OR list_contains($where_mechanism, mechanism))
    AND ($where_attempt_number IS NULL OR list_contains($where_attempt_number, CAST(attempt_number AS VARCHAR)))
    AND ($from_on IS NULL OR began_on >= CAST($from_on AS DATE))
    AND ($to_on IS NULL OR began_on <= CAST($to_on AS DATE));
