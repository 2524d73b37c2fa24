-- Grain: one row per group and distinct (entry, lower, upper, time, end) of the rounded spells, with their number.
SELECT
    family, usage_class, site, stick, sensor_type, batch, depth, mechanism, attempt_number,
    is_age_known, entry, lower, upper, at_time, is_failure, CAST(count(*) AS BIGINT) AS spell_count
FROM rounded_spell
GROUP BY ALL;
