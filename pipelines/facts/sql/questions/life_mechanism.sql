-- Grain: one row per group and distinct (entry, time, failure mechanism) of the rounded spells, with their number.
SELECT
    family, usage_class, site, stick, sensor_type, batch, depth, mechanism, attempt_number,
    is_age_known, entry, at_time, is_failure,
    CASE WHEN is_failure THEN coalesce(failed_by, 'not_recorded') END AS failed_by,
    CAST(count(*) AS BIGINT) AS spell_count
FROM rounded_spell
GROUP BY ALL;
