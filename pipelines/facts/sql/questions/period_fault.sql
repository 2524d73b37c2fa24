-- Grain: one row per fault of an own controller's stick inside a stretch of a period, dated between its bounds: the day, and
-- the play hours of the controller then (NULL outside its readings).
-- Where readings end while the controller is watched on, a fault at the last of them has no hours either: the watch ended
-- there only because the fault did, and would make faults look frequent.
WITH used AS (
    SELECT
        unit_no, CAST(day AS DOUBLE) AS day, hours,
        lead(day) OVER by_day AS next_day, lead(hours) OVER by_day AS next_hours
    FROM reading WHERE doubt IS NULL
    WINDOW by_day AS (PARTITION BY unit_no ORDER BY day)
), failed AS (
    SELECT unit_no, ended_on + log_end_day AS at_day, found_on + log_end_day AS found_day
    FROM own_spell CROSS JOIN history_setting WHERE is_failure
), placed AS (
    SELECT
        failed.unit_no, stretch.period_no, stretch.from_day, failed.at_day,
        CASE
            WHEN failed.at_day > stretch.metered_from AND failed.at_day <= stretch.metered_to
                AND NOT (failed.found_day >= stretch.last_read_day AND stretch.last_watched_day > stretch.last_read_day)
            THEN failed.at_day
        END AS metered_day
    FROM failed
    JOIN period_stretch AS stretch
        ON stretch.unit_no = failed.unit_no AND failed.at_day > stretch.from_day AND failed.at_day <= stretch.to_day
)
SELECT
    placed.unit_no, CAST(placed.period_no AS BIGINT) AS period_no, placed.from_day, placed.at_day,
    used.hours + coalesce((used.next_hours - used.hours) * (placed.metered_day - used.day) / (used.next_day - used.day), 0) AS at_h
FROM placed
ASOF LEFT JOIN used ON used.unit_no = placed.unit_no AND used.day <= placed.metered_day
ORDER BY placed.unit_no, placed.at_day;
