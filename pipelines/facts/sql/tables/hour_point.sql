-- Grain: one row per unit and day at which some spell needs the play hours: read, or between two readings.
-- hours is NULL outside the readings; last_hours is the reading at or before that day.
CREATE OR REPLACE TEMP TABLE hour_point AS
WITH asked AS (
    SELECT unit_no, CAST(opened_reading_day AS DOUBLE) AS day FROM spell_day
    UNION SELECT unit_no, entry_day FROM spell_day WHERE entry_day > opened_day
    UNION SELECT unit_no, lower_day FROM spell_day WHERE is_failure
    UNION SELECT unit_no, upper_day FROM spell_day WHERE is_failure
    UNION SELECT unit_no, end_day FROM spell_day WHERE NOT is_failure
    UNION SELECT unit_no, CAST(start_day AS DOUBLE) FROM spell_day WHERE hours_counted_from = 'start_day'
    UNION SELECT unit_no, CAST(opened_reading_day AS DOUBLE) FROM module_life_day
    UNION SELECT unit_no, greatest(CAST(opened_day AS DOUBLE), setting.log_start_day)
        FROM module_life_day CROSS JOIN history_setting AS setting WHERE opened_day < setting.log_start_day
    UNION SELECT unit_no, CAST(end_day AS DOUBLE) FROM module_life_day WHERE end_day IS NOT NULL
    UNION SELECT unit_no, CAST(follow_day AS DOUBLE) FROM module_life_day WHERE follow_day IS NOT NULL
    UNION SELECT unit_no, setting.cut_day FROM module_life_day CROSS JOIN history_setting AS setting
), kept AS (
    SELECT unit_no, CAST(day AS DOUBLE) AS day, hours FROM reading WHERE doubt IS NULL
), along AS (
    SELECT asked.unit_no, asked.day, true AS is_asked, kept.hours
    FROM asked LEFT JOIN kept ON kept.unit_no = asked.unit_no AND kept.day = asked.day
    UNION ALL
    SELECT kept.unit_no, kept.day, false AS is_asked, kept.hours
    FROM kept LEFT JOIN asked ON kept.unit_no = asked.unit_no AND kept.day = asked.day
    WHERE asked.day IS NULL
), neighbour AS (
    SELECT
        unit_no, day, is_asked, hours,
        last_value(hours IGNORE NULLS) OVER until_here AS last_hours,
        last_value(CASE WHEN hours IS NOT NULL THEN day END IGNORE NULLS) OVER until_here AS last_day,
        first_value(hours IGNORE NULLS) OVER from_here AS next_hours,
        first_value(CASE WHEN hours IS NOT NULL THEN day END IGNORE NULLS) OVER from_here AS next_day
    FROM along
    WINDOW
        until_here AS (PARTITION BY unit_no ORDER BY day ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW),
        from_here AS (PARTITION BY unit_no ORDER BY day ROWS BETWEEN CURRENT ROW AND UNBOUNDED FOLLOWING)
)
SELECT
    unit_no, day, last_hours, last_day,
    coalesce(
        hours, last_hours + (next_hours - last_hours) * (day - last_day) / nullif(next_day - last_day, 0)
    ) AS hours
FROM neighbour
WHERE is_asked;
