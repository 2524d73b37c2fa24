-- Grain: one row per end of the own spells: failed or not, how many have length in days, and how many of those no usable hours.
SELECT
    is_failure, CAST(count(*) AS BIGINT) AS day_count, CAST(count(*) FILTER (WHERE hours IS NULL) AS BIGINT) AS no_hours_count,
    true AS is_age_known
FROM seat_spell
WHERE days > 0
GROUP BY is_failure;
