-- Grain: one row per end of the first lives of modules fitted with a batch: how many have length in days, how many of those no usable hours.
SELECT
    is_failure, count(*) FILTER (WHERE has_day_length) AS day_count,
    count(*) FILTER (WHERE has_day_length AND NOT has_usable_hours) AS no_hours_count, true AS is_age_known
FROM asked_spell
WHERE is_fitted_here AND batch_fitted IS NOT NULL
GROUP BY is_failure;
