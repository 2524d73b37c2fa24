-- Grain: one row per module whose life was watched: from its start, or when first watched, to its removal.
CREATE OR REPLACE TABLE module_life AS
WITH placed AS (
    SELECT
        watched.*,
        CASE
            WHEN watched.is_from_start THEN CAST(watched.opened_day AS DOUBLE)
            WHEN watched.start_day <= watched.opened_day THEN CAST(watched.start_day AS DOUBLE)
        END AS zero_day,
        CASE
            WHEN watched.is_new_module THEN point.opened_h
            WHEN watched.is_from_registration OR watched.hours_counted_from = 'meter' THEN 0
            WHEN watched.hours_counted_from = 'start_day' AND watched.start_day <= watched.opened_day THEN point.started_h
        END AS zero_h,
        CASE WHEN watched.is_from_registration THEN 0 ELSE point.opened_h END AS opened_h,
        CASE
            WHEN watched.entry_day > watched.opened_day THEN point.entered_h
            WHEN watched.is_from_registration THEN 0
            ELSE point.opened_h
        END AS entered_h,
        point.left_h AS ended_h
    FROM module_life_day AS watched
    LEFT JOIN hour_point AS point ON point.spell_no = watched.spell_no
    WHERE watched.exit_day > watched.entry_day
)
SELECT
    spell_no, slot_no, module_no, life, generation,
    zero_day IS NOT NULL AS is_age_known_days,
    zero_h IS NOT NULL AS is_age_known_h,
    entry_day - coalesce(zero_day, opened_day) AS entry_days,
    exit_day - coalesce(zero_day, opened_day) AS exit_days,
    CASE WHEN ended_h IS NOT NULL THEN entered_h - coalesce(zero_h, opened_h) END AS entry_h,
    CASE WHEN entered_h IS NOT NULL THEN ended_h - coalesce(zero_h, opened_h) END AS exit_h,
    is_failure
FROM placed;
