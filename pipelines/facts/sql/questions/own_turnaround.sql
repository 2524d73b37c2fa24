-- Grain: one row, how long own controllers were away for a fault in the last 364 days: jobs, and mean days from the day they
-- came in to the day they went back (NULL: not recorded).
SELECT
    CAST(count(*) AS BIGINT) AS job_count,
    avg(unix_date(coalesce(job.returned_to_service_on, job.closed_on)) - unix_date(job.received_on)) AS away_days
FROM job CROSS JOIN history_setting AS setting
WHERE job.finding IN ('fault_confirmed', 'intermittent')
    AND job.unit_id IN (SELECT unit_id FROM own_spell)
    AND coalesce(job.returned_to_service_on, job.closed_on) >= job.received_on
    AND unix_date(job.received_on) BETWEEN setting.log_end_day - 363 AND setting.log_end_day;
