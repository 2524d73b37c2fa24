-- Grain: one row per unit and day on which its play hours are known, in one running count over meter changes.
-- `doubt` is set where the value was put aside: it fell, or rose faster than the calendar allows.
CREATE OR REPLACE TABLE reading AS
WITH basis AS (
    -- a column that the export does not have at all is taken as metered
    SELECT
        (SELECT count(usage_basis) = 0 FROM job) AS is_job_metered,
        (SELECT count(source) = 0 FROM usage_reading) AS is_reading_metered
), unit_number AS (
    SELECT unit_id, min(unit_no) AS unit_no, min(CASE WHEN new_or_used = 'new' THEN in_service_day END) AS new_day
    FROM slot GROUP BY unit_id
), stated AS (
    SELECT unit_id, unix_date(received_on) AS day, usage_hours AS hours, false AS is_reset
    FROM job CROSS JOIN basis
    WHERE usage_hours IS NOT NULL AND (is_job_metered OR usage_basis IN ('metered', 'sessions'))
    UNION ALL
    SELECT unit_id, unix_date(CAST(read_on AS DATE)) AS day, hours, coalesce(meter_reset, false) AS is_reset
    FROM usage_reading CROSS JOIN basis
    WHERE is_reading_metered OR source IN ('meter', 'sessions')
), running AS (
    SELECT
        unit_number.unit_no, unit_number.new_day, stated.day, stated.hours, stated.is_reset,
        sum(stated.is_reset::INTEGER) OVER meter AS meter_no,
        lag(stated.hours) OVER meter AS hours_before
    FROM stated JOIN unit_number ON unit_number.unit_id = stated.unit_id
    WINDOW meter AS (PARTITION BY unit_number.unit_no ORDER BY stated.day, stated.is_reset, stated.hours)
), carried AS (
    SELECT unit_no, day, min(new_day) AS new_day, max(hours + carried_hours) AS hours
    FROM (
        SELECT *, coalesce(sum(CASE WHEN is_reset THEN hours_before ELSE 0 END) OVER (
            PARTITION BY unit_no ORDER BY day, is_reset, hours
        ), 0) AS carried_hours
        FROM running
    )
    GROUP BY unit_no, day
), anchor AS (
    SELECT unit_no, min(in_service_day) AS day FROM slot WHERE new_or_used = 'new' AND is_registered GROUP BY unit_no
    UNION ALL
    SELECT visit.unit_no, min(in_service_since_day) AS day
    FROM visit WHERE life_known_from = 'new' AND NOT is_registered AND in_service_since_day IS NOT NULL
        AND slot_no IS NOT NULL
    GROUP BY visit.unit_no
), all_known AS (
    SELECT unit_no, day, hours, new_day FROM carried
    UNION ALL
    SELECT unit_no, day, 0.0 AS hours, day AS new_day FROM anchor
), daily AS (
    SELECT unit_no, day, max(hours) AS hours, min(new_day) AS new_day FROM all_known GROUP BY unit_no, day
), paced AS (
    SELECT
        *,
        coalesce(hours > 24 * (day - new_day) + 24, false)
            OR coalesce(hours - lag(hours) OVER by_day > 24 * (day - lag(day) OVER by_day + 1), false) AS is_too_fast
    FROM daily
    WINDOW by_day AS (PARTITION BY unit_no ORDER BY day)
)
SELECT
    unit_no, day, hours,
    CASE
        WHEN is_too_fast THEN 'hours_exceed_calendar'
        WHEN hours < max(CASE WHEN NOT is_too_fast THEN hours END) OVER (
            PARTITION BY unit_no ORDER BY day ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ) THEN 'hours_fell'
    END AS doubt
FROM paced;
