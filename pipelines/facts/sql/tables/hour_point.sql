-- Grain: one row per spell: the play hours of its unit on the days at which its clock is read.
-- Hours are read, or lie on the line between two readings; NULL outside the readings. What ended unfailed after the
-- last reading is followed to that reading, if it had begun by then (`since_day`).
-- Roles: -1 a reading, 0 opened, 1 entered, 2 ended, 3 lower, 4 started, 5 left.
CREATE OR REPLACE TEMP TABLE hour_point AS
WITH asked AS (
    -- (a registered new unit had 0 h when its first life opened)
    SELECT spell_no, unit_no, CAST(opened_reading_day AS DOUBLE) AS day, CAST(0 AS TINYINT) AS role, NULL AS since_day
    FROM spell_day WHERE NOT is_from_registration
    UNION ALL
    SELECT spell_no, unit_no, entry_day, 1, NULL FROM spell_day WHERE entry_day > opened_day
    UNION ALL
    SELECT spell_no, unit_no, CASE WHEN is_failure THEN upper_day ELSE end_day END, 2, CASE WHEN NOT is_failure THEN entry_day END
    FROM spell_day
    UNION ALL
    SELECT spell_no, unit_no, lower_day, 3, NULL FROM spell_day
    WHERE is_failure AND lower_day > entry_day AND lower_day < upper_day
    UNION ALL
    SELECT spell_no, unit_no, CAST(start_day AS DOUBLE), 4, NULL FROM spell_day WHERE hours_counted_from = 'start_day'
    UNION ALL
    SELECT spell_no, unit_no, exit_day, 5, CASE WHEN NOT is_failure THEN entry_day END FROM module_life_day
    UNION ALL
    SELECT spell_no, unit_no, CAST(opened_reading_day AS DOUBLE), 0, NULL FROM module_life_day
    WHERE NOT EXISTS (SELECT 1 FROM spell_day WHERE spell_day.spell_no = module_life_day.spell_no)
    UNION ALL
    SELECT spell_no, unit_no, entry_day, 1, NULL FROM module_life_day
    WHERE entry_day > opened_day
        AND NOT EXISTS (SELECT 1 FROM spell_day WHERE spell_day.spell_no = module_life_day.spell_no)
    UNION ALL
    SELECT spell_no, unit_no, CAST(start_day AS DOUBLE), 4, NULL FROM module_life_day
    WHERE hours_counted_from = 'start_day'
        AND NOT EXISTS (SELECT 1 FROM spell_day WHERE spell_day.spell_no = module_life_day.spell_no)
), used AS (
    -- with the next one of the unit, if there is one; readings are kept in the order of unit and day
    SELECT
        unit_no, CAST(day AS DOUBLE) AS day, hours, lead(hours, 1, 0) OVER () AS next_hours,
        CASE WHEN lead(unit_no) OVER () = unit_no THEN lead(day) OVER () ELSE 1e9 END AS next_day
    FROM reading WHERE doubt IS NULL
), stream AS (
    -- on one day the reading comes before what is asked
    SELECT * FROM asked
    UNION ALL BY NAME
    SELECT *, -1 AS role FROM used
    ORDER BY unit_no, day, role
), along AS (
    SELECT
        spell_no, role, unit_no, day, since_day,
        last_value(CASE WHEN role < 0 THEN unit_no END IGNORE NULLS) OVER so_far AS last_unit_no,
        last_value(CASE WHEN role < 0 THEN day END IGNORE NULLS) OVER so_far AS last_day,
        last_value(hours IGNORE NULLS) OVER so_far AS last_hours,
        last_value(next_day IGNORE NULLS) OVER so_far AS next_day,
        last_value(next_hours IGNORE NULLS) OVER so_far AS next_hours
    FROM stream
    WINDOW so_far AS (ROWS UNBOUNDED PRECEDING)
), read AS (
    SELECT
        spell_no, role,
        CASE
            WHEN day = last_day THEN last_hours
            WHEN next_day < 1e9 THEN last_hours + (next_hours - last_hours) * (day - last_day) / (next_day - last_day)
            WHEN last_day > since_day THEN last_hours
        END AS hours
    FROM along WHERE role >= 0 AND last_unit_no = unit_no
)
SELECT
    spell_no,
    max(CASE WHEN role = 0 THEN hours END) AS opened_h,
    max(CASE WHEN role = 1 THEN hours END) AS entered_h,
    max(CASE WHEN role = 2 THEN hours END) AS ended_h,
    max(CASE WHEN role = 3 THEN hours END) AS lower_h,
    max(CASE WHEN role = 4 THEN hours END) AS started_h,
    max(CASE WHEN role = 5 THEN hours END) AS left_h
FROM read
GROUP BY spell_no;
