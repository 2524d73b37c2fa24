-- Grain: one row per own controller, period and stretch of it in which at least one stick was in service and good, merged
-- where the spells of its sticks overlap or touch. Periods are (begins, ends], days since 1970-01-01 ($begins, $ends).
-- The part of it between the controller's first and last good reading runs from metered_from to metered_to (NULL: none).
CREATE OR REPLACE TEMP TABLE period_stretch AS
WITH period AS (
    SELECT unnest(range(len($begins))) AS period_no, unnest($begins) AS begins, unnest($ends) AS ends
), placed AS (
    -- a failed stick is watched up to the visit that found it
    SELECT
        unit_no, entered_on + log_end_day AS entered_day,
        coalesce(found_on, ended_on) + log_end_day AS left_day
    FROM own_spell CROSS JOIN history_setting
), reached AS (
    SELECT *, max(left_day) OVER (
        PARTITION BY unit_no ORDER BY entered_day, left_day ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
    ) AS watched_until
    FROM placed
), numbered AS (
    SELECT *, count(*) FILTER (WHERE watched_until IS NULL OR entered_day > watched_until) OVER (
        PARTITION BY unit_no ORDER BY entered_day, left_day ROWS UNBOUNDED PRECEDING
    ) AS stretch_no
    FROM reached
), stretch AS (
    SELECT unit_no, min(entered_day) AS entered_day, max(left_day) AS left_day
    FROM numbered GROUP BY unit_no, stretch_no
), metered AS (
    SELECT unit_no, min(day) AS first_day, max(day) AS last_day FROM reading WHERE doubt IS NULL GROUP BY unit_no
)
SELECT
    stretch.unit_no, period.period_no,
    greatest(stretch.entered_day, period.begins) AS from_day,
    least(stretch.left_day, period.ends) AS to_day,
    CASE WHEN overlap.ends > overlap.begins THEN overlap.begins END AS metered_from,
    CASE WHEN overlap.ends > overlap.begins THEN overlap.ends END AS metered_to,
    metered.last_day AS last_read_day,
    max(stretch.left_day) OVER (PARTITION BY stretch.unit_no) AS last_watched_day
FROM stretch
JOIN period ON stretch.entered_day < period.ends AND stretch.left_day > period.begins
LEFT JOIN metered ON metered.unit_no = stretch.unit_no
LEFT JOIN LATERAL (
    -- (least and greatest pass over NULL: without a reading there is no overlap)
    SELECT
        greatest(stretch.entered_day, period.begins, metered.first_day) AS begins,
        least(stretch.left_day, period.ends, metered.last_day) AS ends
    WHERE metered.unit_no IS NOT NULL
) AS overlap ON true;
