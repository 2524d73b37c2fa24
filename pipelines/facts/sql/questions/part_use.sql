-- Grain: one row per sensor type and 13 weeks before the end of the log (0: the last), of four: how many parts were fitted
-- in all, and how many of them put a fault of an own stick right.
WITH fitted AS (
    SELECT
        coalesce(nullif(part_batch.sensor_type, 'unknown'), nullif(job.sensor_type, 'unknown'), slot.sensor_type) AS sensor_type,
        (setting.log_end_day - unix_date(job.received_on)) // 91 AS quarter
    FROM job
    JOIN action_kind ON action_kind.action = job.action
    CROSS JOIN history_setting AS setting
    LEFT JOIN part_batch ON part_batch.batch_id = job.part_batch_fitted
    LEFT JOIN slot ON slot.unit_id = job.unit_id AND slot.stick = job.stick
    WHERE action_kind.is_replaced AND NOT action_kind.is_scrapped
        AND unix_date(job.received_on) BETWEEN setting.log_end_day - 363 AND setting.log_end_day
), fitted_count AS (
    SELECT sensor_type, quarter, count(*) AS parts FROM fitted GROUP BY ALL
), own_count AS (
    SELECT sensor_type, CAST(-found_on AS BIGINT) // 91 AS quarter, count(*) AS parts
    FROM own_spell WHERE is_put_right_by_part AND found_on > -364
    GROUP BY ALL
)
SELECT
    fitted_count.sensor_type, CAST(fitted_count.quarter AS BIGINT) AS quarter, CAST(fitted_count.parts AS BIGINT) AS fitted_count,
    CAST(least(coalesce(own_count.parts, 0), fitted_count.parts) AS BIGINT) AS own_fault_count
FROM fitted_count
LEFT JOIN own_count ON own_count.sensor_type IS NOT DISTINCT FROM fitted_count.sensor_type
    AND own_count.quarter = fitted_count.quarter
ORDER BY ALL;
