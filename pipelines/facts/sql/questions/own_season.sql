-- Grain: one row, how much the own controllers were played in the 13 weeks that begin a year before the end of the log, a
-- day, against the whole year: 1 is as much. NULL unless readings of at least ten controllers cover that year.
WITH own AS (
    SELECT DISTINCT slot.unit_no FROM own_spell JOIN slot ON slot.slot_no = own_spell.slot_no
), ordered AS (
    SELECT
        reading.unit_no, day, hours,
        lead(day) OVER (PARTITION BY reading.unit_no ORDER BY day) AS next_day,
        lead(hours) OVER (PARTITION BY reading.unit_no ORDER BY day) AS next_hours,
        setting.log_end_day - 364 AS first_day
    FROM reading JOIN own ON own.unit_no = reading.unit_no CROSS JOIN history_setting AS setting
    WHERE doubt IS NULL
), covered AS (
    SELECT unit_no FROM ordered GROUP BY unit_no HAVING min(day) <= any_value(first_day) AND max(day) >= any_value(first_day) + 329
), played AS (
    SELECT
        sum(greatest(least(next_day, first_day + 91) - greatest(day, first_day), 0) * (next_hours - hours) / (next_day - day)) AS then_h,
        sum(greatest(next_day - greatest(day, first_day), 0) * (next_hours - hours) / (next_day - day)) AS year_h,
        sum(greatest(next_day - greatest(day, first_day), 0)) AS year_days,
        sum(greatest(least(next_day, first_day + 91) - greatest(day, first_day), 0)) AS then_days
    FROM ordered JOIN covered ON covered.unit_no = ordered.unit_no
    WHERE next_day > first_day
)
SELECT CASE WHEN (SELECT count(*) FROM covered) >= 10 AND year_h > 0 THEN (then_h / then_days) / (year_h / year_days) END
FROM played;
