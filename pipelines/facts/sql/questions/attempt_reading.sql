-- Grain: one row per fold and everything that was known of a stick before a cleaning attempt: how many attempts, how many passed.
-- With more attempts than $largest each family has an equal part of them, in whole controllers, always the same ones; a family
-- that has fewer stands whole. fold: a fifth of the controllers, to be predicted from the others.
-- Readings are in % of half-scale, blank where impossible (over twice the whole scale); a dead zone hides what a stick reads at
-- rest, so that is blank too.
WITH size AS (
    SELECT
        family, count(*) AS family_count,
        count(*) OVER () AS families, sum(count(*)) OVER () AS attempts
    FROM described_attempt GROUP BY family
), drawn AS (
    SELECT described_attempt.*, hash(unit_id) % 5 AS fold
    FROM described_attempt
    JOIN size ON size.family IS NOT DISTINCT FROM described_attempt.family
    WHERE attempts <= $largest
        OR hash(unit_id) // 5 % 1000000 < 1000000.0 * $largest / (families * family_count)
), known AS (
    SELECT
        CAST(drawn.fold AS INTEGER) AS fold,
        drawn.family, drawn.sensor_type, nullif(job.failure_mode, 'unknown') AS mode, drawn.mechanism, drawn.depth,
        CAST(drawn.attempt_number AS INTEGER) AS attempt_number,
        -- cleans of this module that failed since one passed
        CAST(drawn.attempt_number - 1 - coalesce(
            max(CASE WHEN drawn.is_passed THEN drawn.attempt_number END) OVER (
                PARTITION BY drawn.slot_no, drawn.module_no ORDER BY drawn.attempt_number
                ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
            ), 0
        ) AS INTEGER) AS failed_tries,
        coalesce(job.reading_basis = 'dead_zone_applied', false) AS is_dead_zone,
        job.af_rest_offset_pct AS rest_offset, job.af_jitter_pct AS jitter, job.af_return_spread_pct AS return_spread,
        job.af_reach_pct AS reach, job.af_linearity_pct AS linearity,
        drawn.is_passed
    FROM drawn
    JOIN job ON job.job_key = drawn.job_key
)
SELECT
    fold, family, sensor_type, mode, mechanism, depth, attempt_number, failed_tries,
    CASE WHEN rest_offset <= 200 AND NOT is_dead_zone THEN rest_offset END AS af_rest_offset_pct,
    CASE WHEN jitter <= 200 AND NOT is_dead_zone THEN jitter END AS af_jitter_pct,
    CASE WHEN return_spread <= 200 AND NOT is_dead_zone THEN return_spread END AS af_return_spread_pct,
    CASE WHEN reach <= 200 THEN reach END AS af_reach_pct,
    CASE WHEN linearity <= 200 THEN linearity END AS af_linearity_pct,
    CAST(count(*) AS BIGINT) AS attempt_count,
    CAST(count(*) FILTER (WHERE is_passed) AS BIGINT) AS passed_count
FROM known
GROUP BY ALL
ORDER BY ALL;
