-- Grain: one row per unit and day on which its play hours are known, in one running count over meter changes.
-- `doubt` is set where the value was put aside: it fell, or rose faster than the calendar allows.
-- Sorted by unit and day, running values stream over the rows and begin anew at each unit.
CREATE OR REPLACE TABLE reading AS
WITH basis AS (
    -- a column that the export does not have at all is taken as metered
    SELECT count(source) = 0 AS is_metered FROM usage_reading
), unit_number AS (
    SELECT unit_id, min(unit_no) AS unit_no FROM slot GROUP BY unit_id
), stated AS (
    SELECT unit_no, visit_day AS day, usage_hours AS hours, false AS is_reset
    FROM visit WHERE usage_hours IS NOT NULL AND unit_no IS NOT NULL
    UNION ALL
    SELECT unit_number.unit_no, unix_date(read_on) AS day, hours, coalesce(meter_reset, false) AS is_reset
    FROM usage_reading JOIN unit_number ON unit_number.unit_id = usage_reading.unit_id CROSS JOIN basis
    CROSS JOIN history_setting AS setting
    WHERE (basis.is_metered OR source IN ('meter', 'sessions')) AND CAST(read_on AS DATE) <= setting.log_end
), reset_day AS (
    -- with what the old meter showed last before that day
    SELECT changed.unit_no, changed.day, max_by(before.hours, (before.day, before.is_reset, before.hours)) AS hours_before
    FROM (SELECT DISTINCT unit_no, day FROM stated WHERE is_reset) AS changed
    JOIN stated AS before ON before.unit_no = changed.unit_no AND before.day < changed.day
    GROUP BY changed.unit_no, changed.day
), placed AS (
    -- on the day of a change a reading under that is of the new meter
    SELECT
        stated.*,
        CASE WHEN is_reset THEN 1 WHEN stated.hours < reset_day.hours_before THEN 2 ELSE 0 END AS place
    FROM stated LEFT JOIN reset_day ON reset_day.unit_no = stated.unit_no AND reset_day.day = stated.day
), metered AS (
    SELECT
        unit_no, day, hours,
        coalesce(unit_no <> lag(unit_no) OVER (), true) AS is_unit_start,
        CASE WHEN is_reset AND unit_no = lag(unit_no) OVER () THEN lag(hours) OVER () ELSE 0 END AS carried
    FROM (SELECT * FROM placed ORDER BY unit_no, day, place, hours)
), carried AS (
    SELECT *, sum(carried) OVER (ROWS UNBOUNDED PRECEDING) AS carried_so_far FROM metered
), known AS (
    SELECT
        unit_no, day,
        hours + carried_so_far - last_value(CASE WHEN is_unit_start THEN carried_so_far END IGNORE NULLS) OVER (
            ROWS UNBOUNDED PRECEDING
        ) AS hours,
        NULL AS new_day
    FROM carried
    UNION ALL
    -- a new unit had 0 h on the day it went into service
    SELECT unit_no, min(in_service_day), 0, min(in_service_day)
    FROM slot WHERE new_or_used = 'new' AND is_registered GROUP BY unit_no
    UNION ALL
    SELECT unit_no, min(new_since_day), 0, min(new_since_day)
    FROM visit WHERE new_since_day IS NOT NULL AND NOT is_registered AND slot_no IS NOT NULL
    GROUP BY unit_no
), daily AS (
    SELECT unit_no, day, max(hours) AS hours, min(new_day) AS new_day
    FROM known
    GROUP BY unit_no, day
    ORDER BY unit_no, day
), begun AS (
    SELECT
        *,
        coalesce(unit_no <> lag(unit_no) OVER (), true) AS is_unit_start,
        coalesce(
            unit_no = lag(unit_no) OVER () AND hours - lag(hours) OVER () > 24 * (day - lag(day) OVER () + 1), false
        ) AS is_rise_too_fast
    FROM daily
), since AS (
    SELECT
        *,
        last_value(CASE WHEN is_unit_start OR new_day IS NOT NULL THEN coalesce(new_day, 1000000) END IGNORE NULLS) OVER (
            ROWS UNBOUNDED PRECEDING
        ) AS start_day
    FROM begun
), paced AS (
    SELECT
        unit_no, day, hours,
        is_rise_too_fast OR hours > 24 * (day - start_day) + 24 AND start_day < 1000000 AS is_too_fast
    FROM since
), highest AS (
    SELECT
        *,
        -- unit numbers rise along the rows, so with the unit in front the running maximum begins anew at each unit
        max(CASE WHEN NOT is_too_fast THEN unit_no * 1e8 + hours END) OVER (ROWS UNBOUNDED PRECEDING) AS highest_so_far
    FROM paced
)
SELECT
    unit_no, day, hours,
    CASE
        WHEN is_too_fast THEN 'hours_exceed_calendar'
        WHEN unit_no * 1e8 + hours < highest_so_far THEN 'hours_fell'
    END AS doubt
FROM highest;
