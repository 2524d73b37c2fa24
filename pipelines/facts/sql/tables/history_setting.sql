-- Grain: one row, the settings under which the histories stand; days are numbers since 1970-01-01.
CREATE OR REPLACE TABLE history_setting AS
WITH span AS (
    SELECT
        least((SELECT min(received_on) FROM job), (SELECT min(in_service_on) FROM unit)) AS first_on,
        greatest(
            (SELECT max(received_on) FROM job),
            (SELECT max(CAST(read_on AS DATE)) FROM usage_reading),
            (SELECT max(sold_on) FROM sale),
            (SELECT max(returned_on) FROM sale)
        ) AS last_on
), chosen AS (
    SELECT
        coalesce(CAST($log_start AS DATE), first_on) AS log_start,
        coalesce(CAST($log_end AS DATE), last_on) AS log_end
    FROM span
)
SELECT
    log_start,
    log_end,
    CAST(unix_date(log_start) AS DOUBLE) AS log_start_day,
    unix_date(log_end) AS log_end_day,
    CAST(unix_date(log_end) - CAST($quiet_lag_days AS INTEGER) AS DOUBLE) AS cut_day,
    CAST($notice_days AS DOUBLE) AS notice_days,
    CAST($preventive_clean_censors AS BOOLEAN) AS preventive_clean_censors,
    CAST($pass_max_rest_offset_pct AS DOUBLE) AS pass_max_rest_offset_pct,
    CAST($pass_max_jitter_pct AS DOUBLE) AS pass_max_jitter_pct,
    CAST($pass_max_return_spread_pct AS DOUBLE) AS pass_max_return_spread_pct,
    CAST($pass_min_reach_pct AS DOUBLE) AS pass_min_reach_pct
FROM chosen;
