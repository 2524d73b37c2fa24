-- Grain: one row, the log's window and what it lets be said.
SELECT
    CAST(setting.log_start AS VARCHAR),
    CAST(setting.log_end AS VARCHAR),
    EXISTS (SELECT 1 FROM unit),
    EXISTS (SELECT 1 FROM job WHERE finding = 'no_fault_found'),
    (
        SELECT CAST(count(*) AS BIGINT) FROM unit
        WHERE in_service_on < (SELECT min(received_on) FROM job) - 90
            AND in_service_on >= setting.log_start
    ),
    (SELECT CAST(min(received_on) AS VARCHAR) FROM job)
FROM history_setting AS setting;
