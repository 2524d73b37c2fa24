-- Grain: one row per spell that a question asks for: filtered, on one clock, with the columns it is not split by blanked.
CREATE OR REPLACE TEMP TABLE asked_spell AS
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
    at_days > entry_days AS has_day_length,
    coalesce(CASE WHEN $is_hours THEN at_h > entry_h ELSE at_days > entry_days END, false) AS has_length,
    CASE WHEN $is_hours THEN is_age_known_h ELSE is_age_known_days END AS is_age_known,
    CASE WHEN $is_hours THEN entry_h ELSE entry_days END AS entry,
    CASE WHEN $is_hours THEN lower_h ELSE lower_days END AS lower,
    CASE WHEN $is_hours THEN upper_h ELSE upper_days END AS upper,
    CASE WHEN $is_hours THEN at_h ELSE at_days END AS at_time
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
