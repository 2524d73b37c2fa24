-- Grain: one row per cleaning attempt that a question asks for: filtered, with the columns it is not split by blanked.
CREATE OR REPLACE TEMP TABLE asked_attempt AS
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
    mechanism = 'track_wear' AS is_worn_track,
    is_passed, has_failed_again, has_usable_hours, held_days, held_h, unit_id, life
FROM described_attempt
WHERE true
    AND ($where_family IS NULL OR list_contains($where_family, family))
    AND ($where_usage_class IS NULL OR list_contains($where_usage_class, usage_class))
    AND ($where_site IS NULL OR list_contains($where_site, site))
    AND ($where_stick IS NULL OR list_contains($where_stick, stick))
    AND ($where_sensor_type IS NULL OR list_contains($where_sensor_type, sensor_type))
    AND ($where_batch IS NULL OR list_contains($where_batch, batch))
    AND ($where_depth IS NULL OR list_contains($where_depth, depth))
    AND ($where_mechanism IS NULL OR list_contains($where_mechanism, mechanism))
    AND ($where_attempt_number IS NULL OR list_contains($where_attempt_number, CAST(attempt_number AS VARCHAR)))
    AND ($from_on IS NULL OR received_on >= CAST($from_on AS DATE))
    AND ($to_on IS NULL OR received_on <= CAST($to_on AS DATE));
