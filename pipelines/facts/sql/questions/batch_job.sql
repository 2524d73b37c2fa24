-- Grain: one row per row of the job log about a module of `batch_module` that is or may be of the batch, and such module: from the job
-- that fitted it to the one that fitted the next. Cells are as read; file and line are where the row stands in the exports.
SELECT
    held.hold, CAST(date_from_unix_date(CAST(held.fitted_day AS INTEGER)) AS VARCHAR) AS module_fitted_on,
    origin.file, nullif(origin.sheet, '') AS sheet, job.line, job.* EXCLUDE (made_key, job_key, file_id, line)
FROM batch_module AS held
JOIN job ON job.unit_id = held.unit_id AND job.stick IN (held.stick, 'U')
    AND coalesce(greatest(unix_date(job.received_on), unix_date(job.closed_on), unix_date(job.returned_to_service_on))
        >= held.fitted_day, true)
    AND coalesce(unix_date(job.received_on) <= held.until_day, true)
JOIN ledger AS origin ON origin.file_id = job.file_id
WHERE held.hold <> 'unrecorded'
ORDER BY
    held.hold NOT IN ('fitted', 'found'), held.unit_id, held.stick, held.fitted_day NULLS FIRST, job.received_on, job.closed_on,
    job.file_id, job.line;
