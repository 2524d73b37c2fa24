-- Grain: one row per group of controllers: how many have two good readings on different days and were played, how many
-- there are in all, and the play hours a week that 10 %, half and 90 % of the former stay under.
WITH unit AS (
    SELECT
        unit_no,
        min(CASE WHEN list_contains(CAST($by AS VARCHAR[]), 'family') THEN family END) AS family,
        min(CASE WHEN list_contains(CAST($by AS VARCHAR[]), 'usage_class') THEN usage_class END) AS usage_class
    FROM slot
    GROUP BY unit_no
), used AS (
    SELECT unit_no, nullif(7 * (max(hours) - min(hours)) / nullif(max(day) - min(day), 0), 0) AS hours_per_week
    FROM reading
    WHERE doubt IS NULL
    GROUP BY unit_no
)
SELECT
    unit.family, unit.usage_class, CAST(count(*) AS BIGINT) AS unit_count,
    CAST(count(used.hours_per_week) AS BIGINT) AS metered_count,
    quantile_cont(used.hours_per_week, 0.1) AS low_h, quantile_cont(used.hours_per_week, 0.5) AS median_h,
    quantile_cont(used.hours_per_week, 0.9) AS high_h
FROM unit LEFT JOIN used ON used.unit_no = unit.unit_no
GROUP BY unit.family, unit.usage_class
ORDER BY unit.family, unit.usage_class;
