-- Grain: one row per group, severity band and result of the asked failures, with their number. Bands are thirds of the
-- severity of all asked failures together; where nothing was read, the mechanism found stands in.
WITH third AS (
    SELECT quantile_disc(severity_pct, 1.0 / 3) AS low_pct, quantile_disc(severity_pct, 2.0 / 3) AS high_pct
    FROM asked_failure
)
SELECT
    family, usage_class, site, stick, sensor_type, batch, mechanism,
    CASE
        WHEN severity_pct IS NULL THEN coalesce(mechanism_found, 'not_recorded')
        WHEN severity_pct <= third.low_pct THEN 'lowest_third'
        WHEN severity_pct <= third.high_pct THEN 'middle_third'
        ELSE 'highest_third'
    END AS band,
    is_tried, coalesce(is_passed, false) AS is_passed,
    CAST(count(*) AS BIGINT) AS failure_count
FROM asked_failure CROSS JOIN third
-- a clean without a result is no attempt, and is counted apart
WHERE is_passed IS NOT NULL OR NOT is_tried
GROUP BY ALL;
