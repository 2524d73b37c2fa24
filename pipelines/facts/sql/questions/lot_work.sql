-- Grain: one row per family and fate: the bench work of units finished by a day; NULL: by the end of the log.
-- Each mean and SD is over the units whose jobs say it, counted beside it.
SELECT
    family,
    fate,
    CAST(count(*) AS BIGINT) AS unit_count,
    CAST(count(bench_minutes) AS BIGINT) AS timed_count,
    avg(bench_minutes) / 60 AS bench_mean_h,
    stddev_samp(bench_minutes) / 60 AS bench_sd_h,
    avg(sensor_count) AS sensors_per_unit,
    avg(module_count) AS modules_per_unit,
    avg(board_count) AS boards_per_unit,
    CAST(count(parts_cost) AS BIGINT) AS parts_costed_count,
    avg(parts_cost) AS parts_mean,
    stddev_samp(parts_cost) AS parts_sd,
    CAST(count(consumables_cost) AS BIGINT) AS consumables_costed_count,
    avg(consumables_cost) AS consumables_mean,
    stddev_samp(consumables_cost) AS consumables_sd
FROM lot_unit
WHERE fate <> 'open' AND ($as_of IS NULL OR finished_on < CAST($as_of AS DATE))
GROUP BY family, fate
ORDER BY family, fate;
