-- Grain: one row per sensor type: parts received by the end of the log, those fitted from these deliveries, and those fitted
-- of which the delivery was not recorded.
WITH received AS (
    SELECT nullif(sensor_type, 'unknown') AS sensor_type, sum(qty) AS parts
    FROM part_batch CROSS JOIN history_setting AS setting
    WHERE part_batch.received_on <= setting.log_end
    GROUP BY ALL
), fitted AS (
    SELECT
        coalesce(nullif(part_batch.sensor_type, 'unknown'), nullif(job.sensor_type, 'unknown'), slot.sensor_type) AS sensor_type,
        part_batch.batch_id IS NOT NULL AS is_recorded
    FROM job
    JOIN action_kind ON action_kind.action = job.action
    CROSS JOIN history_setting AS setting
    LEFT JOIN part_batch ON part_batch.batch_id = job.part_batch_fitted
    LEFT JOIN slot ON slot.unit_id = job.unit_id AND slot.stick = job.stick
    WHERE action_kind.is_replaced AND NOT action_kind.is_scrapped AND job.received_on <= setting.log_end
), used AS (
    SELECT
        sensor_type, count(*) FILTER (WHERE is_recorded) AS recorded, count(*) FILTER (WHERE NOT is_recorded) AS unrecorded
    FROM fitted GROUP BY sensor_type
)
SELECT
    coalesce(received.sensor_type, used.sensor_type) AS sensor_type, CAST(received.parts AS BIGINT) AS received_count,
    CAST(coalesce(used.recorded, 0) AS BIGINT) AS fitted_count, CAST(coalesce(used.unrecorded, 0) AS BIGINT) AS unrecorded_count
FROM received FULL JOIN used ON used.sensor_type IS NOT DISTINCT FROM received.sensor_type
ORDER BY ALL;
