-- Grain: one row per spell that a question asks for: filtered, on its clock, with the columns it is not split by blanked.
-- What is asked stands in variables: DuckDB folds them into the plan, and reads only the columns that a count needs.
CREATE OR REPLACE TEMP VIEW asked_spell AS
SELECT
    CASE WHEN list_contains(getvariable('asked_by'), 'family') THEN family END AS family,
    CASE WHEN list_contains(getvariable('asked_by'), 'usage_class') THEN usage_class END AS usage_class,
    CASE WHEN list_contains(getvariable('asked_by'), 'site') THEN site END AS site,
    CASE WHEN list_contains(getvariable('asked_by'), 'stick') THEN stick END AS stick,
    CASE WHEN list_contains(getvariable('asked_by'), 'sensor_type') THEN sensor_type END AS sensor_type,
    CASE WHEN list_contains(getvariable('asked_by'), 'batch') THEN batch END AS batch,
    CASE WHEN list_contains(getvariable('asked_by'), 'depth') THEN depth END AS depth,
    CASE WHEN list_contains(getvariable('asked_by'), 'mechanism') THEN mechanism END AS mechanism,
    CASE WHEN list_contains(getvariable('asked_by'), 'attempt_number') THEN attempt_number END AS attempt_number,
    spell_no, slot_no, unit_no, life, module_no, is_fitted_here, batch_fitted, fitted_day, began_on, entry_days, at_days,
    failed_by, is_registered, is_failure, is_assumed, has_usable_hours,
    at_days > entry_days AS has_day_length,
    coalesce(CASE WHEN getvariable('asked_hours') THEN at_h > entry_h ELSE at_days > entry_days END, false) AS has_length,
    CASE WHEN getvariable('asked_hours') THEN is_age_known_h ELSE is_age_known_days END AS is_age_known,
    CASE WHEN getvariable('asked_hours') THEN entry_h ELSE entry_days END AS entry,
    CASE WHEN getvariable('asked_hours') THEN lower_h ELSE lower_days END AS lower,
    CASE WHEN getvariable('asked_hours') THEN upper_h ELSE upper_days END AS upper,
    CASE WHEN getvariable('asked_hours') THEN at_h ELSE at_days END AS at_time
FROM described_spell
WHERE (getvariable('asked_kind') IS NULL OR kind = getvariable('asked_kind'))
    AND (getvariable('where_family') IS NULL OR list_contains(getvariable('where_family'), family))
    AND (getvariable('where_usage_class') IS NULL OR list_contains(getvariable('where_usage_class'), usage_class))
    AND (getvariable('where_site') IS NULL OR list_contains(getvariable('where_site'), site))
    AND (getvariable('where_stick') IS NULL OR list_contains(getvariable('where_stick'), stick))
    AND (getvariable('where_sensor_type') IS NULL OR list_contains(getvariable('where_sensor_type'), sensor_type))
    AND (getvariable('where_batch') IS NULL OR list_contains(getvariable('where_batch'), batch))
    AND (getvariable('where_depth') IS NULL OR list_contains(getvariable('where_depth'), depth))
    AND (getvariable('where_mechanism') IS NULL OR list_contains(getvariable('where_mechanism'), mechanism))
    AND (
        getvariable('where_attempt_number') IS NULL
        OR list_contains(getvariable('where_attempt_number'), CAST(attempt_number AS VARCHAR))
    )
    AND (getvariable('from_on') IS NULL OR began_on >= CAST(getvariable('from_on') AS DATE))
    AND (getvariable('to_on') IS NULL OR began_on <= CAST(getvariable('to_on') AS DATE));
