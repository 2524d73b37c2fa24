-- Grain: one row per batch and look in which a module of it went into service or was found failed: how many of each, and the
-- first day in service. Looks are steps of $look_days from the start of the log.
WITH noted AS (
    SELECT batch, fitted_at, 1 AS fitted, 0 AS found, floor(fitted_at / $look_days) AS look FROM batch_dated
    UNION ALL
    SELECT batch, NULL, 0, 1, floor(ended_at / $look_days) FROM batch_dated WHERE is_found
), counted AS (
    SELECT
        batch, CAST(greatest(look, 0) AS INTEGER) AS look, CAST(sum(fitted) AS BIGINT) AS fitted_count,
        CAST(sum(found) AS BIGINT) AS found_count, min(fitted_at) AS first_at
    FROM noted GROUP BY ALL
)
SELECT
    counted.batch, part_batch.supplier, part_batch.part_type, coalesce(part_batch.mixed_flag, false) AS is_mixed, counted.look,
    counted.fitted_count, counted.found_count, setting.log_start + CAST(counted.first_at AS INTEGER) AS first_fitted_on
FROM counted CROSS JOIN history_setting AS setting LEFT JOIN part_batch ON part_batch.batch_id = counted.batch
ORDER BY counted.batch, counted.look;
