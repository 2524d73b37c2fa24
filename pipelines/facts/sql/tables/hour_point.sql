-- Grain: one row per spell: the play hours of its unit on the days at which its clock is read.
-- Hours are read, or lie on the line between two readings; NULL outside the readings. `last` is the reading at or before.
-- Roles: 0 opened, 1 entered, 2 ended, 3 lower, 4 started, 5 left.
CREATE OR REPLACE TEMP TABLE hour_point AS
WITH asked AS (
    -- (a registered new unit had 0 h when its first life opened)
    SELECT spell_no, unit_no, CAST(opened_reading_day AS DOUBLE) AS day, CAST(0 AS TINYINT) AS role FROM spell_day
    WHERE NOT is_from_registration
    UNION ALL
    SELECT spell_no, unit_no, entry_day, 1 FROM spell_day WHERE entry_day > opened_day
    UNION ALL
    SELECT spell_no, unit_no, CASE WHEN is_failure THEN upper_day ELSE end_day END, 2 FROM spell_day
    UNION ALL
    SELECT spell_no, unit_no, lower_day, 3 FROM spell_day
    WHERE is_failure AND lower_day > entry_day AND lower_day < upper_day
    UNION ALL
    SELECT spell_no, unit_no, CAST(start_day AS DOUBLE), 4 FROM spell_day WHERE hours_counted_from = 'start_day'
    UNION ALL
    SELECT spell_no, unit_no, exit_day, 5 FROM module_life_day
    UNION ALL
    SELECT spell_no, unit_no, CAST(opened_reading_day AS DOUBLE), 0 FROM module_life_day
    WHERE NOT EXISTS (SELECT 1 FROM spell_day WHERE spell_day.spell_no = module_life_day.spell_no)
    UNION ALL
    SELECT spell_no, unit_no, entry_day, 1 FROM module_life_day
    WHERE entry_day > opened_day
        AND NOT EXISTS (SELECT 1 FROM spell_day WHERE spell_day.spell_no = module_life_day.spell_no)
    UNION ALL
    SELECT spell_no, unit_no, CAST(start_day AS DOUBLE), 4 FROM module_life_day
    WHERE hours_counted_from = 'start_day'
        AND NOT EXISTS (SELECT 1 FROM spell_day WHERE spell_day.spell_no = module_life_day.spell_no)
), numbered AS (
    SELECT unit_no, CAST(day AS DOUBLE) AS day, hours, row_number() OVER () AS reading_no
    FROM (SELECT unit_no, day, hours FROM reading WHERE doubt IS NULL ORDER BY unit_no, day)
), along AS (
    -- the readings passed so far number the last one at or before; on one day the reading comes before what is asked
    SELECT spell_no, unit_no, day, role, count(*) FILTER (WHERE role IS NULL) OVER (ROWS UNBOUNDED PRECEDING) AS reading_no
    FROM (
        SELECT spell_no, unit_no, day, role, true AS is_asked FROM asked
        UNION ALL
        SELECT NULL, unit_no, day, NULL, false FROM numbered
        ORDER BY unit_no, day, is_asked
    )
), read AS (
    SELECT
        along.spell_no, along.role, before.hours AS last_hours, before.day AS last_day,
        CASE
            WHEN along.day = before.day THEN before.hours
            ELSE before.hours + (after.hours - before.hours) * (along.day - before.day) / (after.day - before.day)
        END AS hours
    FROM along
    LEFT JOIN numbered AS before ON before.reading_no = along.reading_no AND before.unit_no = along.unit_no
    LEFT JOIN numbered AS after ON after.reading_no = along.reading_no + 1 AND after.unit_no = along.unit_no
    WHERE along.role IS NOT NULL
)
SELECT
    spell_no,
    max(CASE WHEN role = 0 THEN hours END) AS opened_h,
    max(CASE WHEN role = 1 THEN hours END) AS entered_h,
    max(CASE WHEN role = 3 THEN hours END) AS lower_h,
    max(CASE WHEN role = 4 THEN hours END) AS started_h,
    max(CASE WHEN role = 2 THEN hours END) AS ended_h,
    max(CASE WHEN role = 2 THEN last_hours END) AS ended_last_h,
    max(CASE WHEN role = 2 THEN last_day END) AS ended_last_day,
    max(CASE WHEN role = 5 THEN hours END) AS left_h,
    max(CASE WHEN role = 5 THEN last_hours END) AS left_last_h,
    max(CASE WHEN role = 5 THEN last_day END) AS left_last_day
FROM read
GROUP BY spell_no;
