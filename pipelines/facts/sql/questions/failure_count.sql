-- Grain: one row per group, severity band and result of the asked failures, with their number. Bands hold equal parts of
-- the severity of all asked failures together, up to ten and about fifteen failures each; where nothing was read, the
-- mechanism found stands in.
WITH ranked AS (
    SELECT
        *,
        rank() OVER (PARTITION BY severity_pct IS NULL ORDER BY severity_pct) - 1 AS milder_count,
        count(severity_pct) OVER () AS read_count
    FROM asked_failure
)
SELECT
    family, usage_class, site, stick, sensor_type, batch, mechanism,
    CASE
        WHEN severity_pct IS NULL THEN coalesce(mechanism_found, 'not_recorded')
        ELSE concat('severity_', 1 + least(greatest(read_count // 15, 3), 10) * milder_count // read_count)
    END AS band,
    is_tried, coalesce(is_passed, false) AS is_passed,
    CAST(count(*) AS BIGINT) AS failure_count
FROM ranked
-- a clean without a result is no attempt, and is counted apart
WHERE is_passed IS NOT NULL OR NOT is_tried
GROUP BY ALL;
