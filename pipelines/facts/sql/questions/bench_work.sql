-- Grain: one row per family and kind of bench work: air, flush, open (one clean of a stick, no part) or new_part (a part, no clean):
-- how many jobs, and of those with minutes, parts cost and consumables known how many, and their means.
-- What else was done that day (a test, a calibration) is in the minutes. Money of 0 for a part fitted is not known.
WITH kind AS (
    SELECT
        job.family, job.bench_minutes, job.parts_cost, job.consumables_cost,
        CASE WHEN action_kind.clean_count = 1 THEN action_kind.depths[1] ELSE 'new_part' END AS work
    FROM job
    JOIN action_kind ON action_kind.action = job.action
    WHERE NOT action_kind.is_scrapped AND NOT action_kind.is_board_replaced
        AND ((action_kind.clean_count = 1 AND NOT action_kind.is_replaced)
            OR (action_kind.clean_count = 0 AND action_kind.is_replaced))
)
SELECT
    family, work, CAST(count(*) AS BIGINT) AS job_count,
    CAST(count(bench_minutes) AS BIGINT) AS timed_count, avg(bench_minutes) AS minutes_mean,
    CAST(count(nullif(parts_cost, 0)) AS BIGINT) AS parts_costed_count, avg(nullif(parts_cost, 0)) AS parts_mean,
    CAST(count(consumables_cost) AS BIGINT) AS consumables_costed_count, avg(consumables_cost) AS consumables_mean
FROM kind
GROUP BY family, work
ORDER BY family, work;
