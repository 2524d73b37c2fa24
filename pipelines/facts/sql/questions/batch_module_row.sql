-- Grain: one row per module that is or may be of the batch, those in service first.
SELECT
    hold, label, unit_id, stick, family, site, station, state, CAST(failure_count AS BIGINT) AS failure_count,
    CAST(date_from_unix_date(CAST(fitted_day AS INTEGER)) AS VARCHAR) AS fitted_on,
    CAST(date_from_unix_date(CAST(floor(failed_day) AS INTEGER)) AS VARCHAR) AS first_failed_on,
    CAST(date_from_unix_date(CAST(warranty_day AS INTEGER)) AS VARCHAR) AS warranty_to, age_days, age_h
FROM batch_module
WHERE hold <> 'unrecorded'
ORDER BY hold NOT IN ('fitted', 'found'), state <> 'in_service', site NULLS LAST, unit_id, stick, fitted_on;
