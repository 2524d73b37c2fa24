-- Grain: one row, the size of the record.
SELECT
    (SELECT count(*) FROM job) AS job_count,
    (SELECT count(DISTINCT unit_no) FROM slot) AS unit_count,
    (SELECT count(*) FROM slot) AS slot_count,
    (SELECT count(*) FROM module) AS module_count,
    (SELECT count(*) FROM attempt) AS attempt_count,
    (SELECT count(*) FROM spell WHERE is_failure) AS failure_count,
    CAST(setting.log_start AS VARCHAR) AS log_start,
    CAST(setting.log_end AS VARCHAR) AS log_end
FROM history_setting AS setting;
