-- Grain: one row per site, family and 13 weeks before the end of the log (0: the last), of four: how many jobs the own
-- controllers had besides those that found a fault, and how many found one.
WITH unit_known AS (
    SELECT unit_id, any_value(site) AS site, any_value(family) AS family FROM own_spell GROUP BY unit_id
), job_count AS (
    SELECT
        unit_known.site, unit_known.family,
        (setting.log_end_day - unix_date(job.received_on)) // 91 AS quarter, count(*) AS jobs
    FROM job
    JOIN unit_known ON unit_known.unit_id = job.unit_id
    CROSS JOIN history_setting AS setting
    WHERE unix_date(job.received_on) BETWEEN setting.log_end_day - 363 AND setting.log_end_day
    GROUP BY ALL
), fault_count AS (
    SELECT site, family, CAST(-found_on AS BIGINT) // 91 AS quarter, count(*) AS faults
    FROM own_spell WHERE is_failure AND found_on > -364
    GROUP BY ALL
)
SELECT
    job_count.site, job_count.family, CAST(job_count.quarter AS BIGINT) AS quarter,
    CAST(greatest(job_count.jobs - coalesce(fault_count.faults, 0), 0) AS BIGINT) AS other_count,
    CAST(coalesce(fault_count.faults, 0) AS BIGINT) AS fault_count
FROM job_count
LEFT JOIN fault_count ON fault_count.site IS NOT DISTINCT FROM job_count.site
    AND fault_count.family IS NOT DISTINCT FROM job_count.family AND fault_count.quarter = job_count.quarter
ORDER BY ALL;
