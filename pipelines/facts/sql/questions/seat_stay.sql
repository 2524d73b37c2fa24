-- Grain: one row per stay of a controller at a seat, in days before the end of the log (0); without an end it goes on (1e9).
-- A controller is at one seat at a time: a later stay ends the one before. is_overlapping: that one had a later end written.
CREATE OR REPLACE TEMP TABLE seat_stay AS
WITH dated AS (
    SELECT DISTINCT
        unit_id, station_id AS station, unix_date(CAST(from_at AS DATE)) - setting.log_end_day AS from_day,
        coalesce(unix_date(CAST(to_at AS DATE)) - setting.log_end_day, 1e9) AS to_day
    FROM assignment CROSS JOIN history_setting AS setting
    WHERE unit_id IS NOT NULL AND station_id IS NOT NULL AND from_at IS NOT NULL
), ordered AS (
    SELECT *, lead(from_day) OVER (PARTITION BY unit_id ORDER BY from_day, to_day, station) AS next_day FROM dated
)
SELECT
    unit_id, station, from_day, least(to_day, coalesce(next_day, 1e9)) AS to_day,
    coalesce(to_day < 1e9 AND to_day > next_day, false) AS is_overlapping
FROM ordered;
