-- Grain: one row per spell: the play hours of its unit on the days at which its clock is read.
-- Hours are read, or lie on the line between two readings; NULL outside the readings. `last` is the reading at or before.
CREATE OR REPLACE TEMP TABLE hour_point AS
WITH asked AS (
    SELECT spell_no, unit_no, CAST(opened_reading_day AS DOUBLE) AS day, 'opened' AS role FROM spell_day
    UNION ALL
    SELECT spell_no, unit_no, entry_day, 'entered' FROM spell_day WHERE entry_day > opened_day
    UNION ALL
    SELECT spell_no, unit_no, CASE WHEN is_failure THEN upper_day ELSE end_day END, 'ended' FROM spell_day
    UNION ALL
    SELECT spell_no, unit_no, lower_day, 'lower' FROM spell_day
    WHERE is_failure AND lower_day > entry_day AND lower_day < upper_day
    UNION ALL
    SELECT spell_no, unit_no, CAST(start_day AS DOUBLE), 'started' FROM spell_day WHERE hours_counted_from = 'start_day'
    UNION ALL
    SELECT spell_no, unit_no, exit_day, 'left' FROM module_life_day
    UNION ALL
    SELECT spell_no, unit_no, CAST(opened_reading_day AS DOUBLE), 'opened' FROM module_life_day
    WHERE NOT EXISTS (SELECT 1 FROM spell_day WHERE spell_day.spell_no = module_life_day.spell_no)
    UNION ALL
    SELECT spell_no, unit_no, entry_day, 'entered' FROM module_life_day
    WHERE entry_day > opened_day
        AND NOT EXISTS (SELECT 1 FROM spell_day WHERE spell_day.spell_no = module_life_day.spell_no)
    UNION ALL
    SELECT spell_no, unit_no, CAST(start_day AS DOUBLE), 'started' FROM module_life_day
    WHERE hours_counted_from = 'start_day'
        AND NOT EXISTS (SELECT 1 FROM spell_day WHERE spell_day.spell_no = module_life_day.spell_no)
), along AS (
    SELECT spell_no, unit_no, day, role, NULL::DOUBLE AS hours, true AS is_asked FROM asked
    UNION ALL
    SELECT NULL, unit_no, CAST(day AS DOUBLE), NULL, hours, false FROM reading WHERE doubt IS NULL
), neighbour AS (
    SELECT
        spell_no, day, role,
        last_value(hours IGNORE NULLS) OVER until_here AS last_hours,
        last_value(CASE WHEN hours IS NOT NULL THEN day END IGNORE NULLS) OVER until_here AS last_day,
        first_value(hours IGNORE NULLS) OVER from_here AS next_hours,
        first_value(CASE WHEN hours IS NOT NULL THEN day END IGNORE NULLS) OVER from_here AS next_day
    FROM along
    WINDOW
        -- on one day the reading comes before what is asked
        until_here AS (PARTITION BY unit_no ORDER BY day, is_asked ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW),
        from_here AS (PARTITION BY unit_no ORDER BY day, is_asked ROWS BETWEEN CURRENT ROW AND UNBOUNDED FOLLOWING)
), read AS (
    SELECT
        spell_no, role, last_hours, last_day,
        CASE
            WHEN day = last_day THEN last_hours
            ELSE last_hours + (next_hours - last_hours) * (day - last_day) / (next_day - last_day)
        END AS hours
    FROM neighbour
    WHERE role IS NOT NULL
)
SELECT
    spell_no,
    max(CASE WHEN role = 'opened' THEN hours END) AS opened_h,
    max(CASE WHEN role = 'entered' THEN hours END) AS entered_h,
    max(CASE WHEN role = 'lower' THEN hours END) AS lower_h,
    max(CASE WHEN role = 'started' THEN hours END) AS started_h,
    max(CASE WHEN role = 'ended' THEN hours END) AS ended_h,
    max(CASE WHEN role = 'ended' THEN last_hours END) AS ended_last_h,
    max(CASE WHEN role = 'ended' THEN last_day END) AS ended_last_day,
    max(CASE WHEN role = 'left' THEN hours END) AS left_h,
    max(CASE WHEN role = 'left' THEN last_hours END) AS left_last_h,
    max(CASE WHEN role = 'left' THEN last_day END) AS left_last_day
FROM read
GROUP BY spell_no;
