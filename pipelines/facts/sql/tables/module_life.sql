-- Grain: one row per module whose life was watched: from its start, or when first watched, to its removal.
CREATE OR REPLACE TABLE module_life AS
WITH placed AS (
    SELECT
        watched.*,
        slot.unit_id, slot.family, slot.usage_class, slot.site, slot.stick, module.sensor_type, module.batch,
        greatest(CAST(watched.opened_day AS DOUBLE), setting.log_start_day) AS entry_day,
        least(setting.cut_day, coalesce(CAST(watched.follow_day AS DOUBLE), 1e9)) AS limit_day,
        CASE
            WHEN watched.is_from_start THEN CAST(watched.opened_day AS DOUBLE)
            WHEN module.start_day <= watched.opened_day THEN CAST(module.start_day AS DOUBLE)
        END AS start_day,
        CASE
            WHEN watched.is_new_module THEN opened.hours
            WHEN module.hours_counted_from = 'meter' THEN 0
            WHEN module.hours_counted_from = 'start_day' AND module.start_day <= watched.opened_day THEN started.hours
        END AS start_h,
        opened.hours AS opened_h
    FROM module_life_day AS watched
    JOIN slot ON slot.slot_no = watched.slot_no
    JOIN module ON module.slot_no = watched.slot_no AND module.module_no = watched.module_no
    LEFT JOIN hour_point AS opened
        ON opened.unit_no = watched.unit_no AND opened.day = CAST(watched.opened_reading_day AS DOUBLE)
    LEFT JOIN hour_point AS started
        ON started.unit_no = watched.unit_no AND started.day = CAST(module.start_day AS DOUBLE)
        AND module.hours_counted_from = 'start_day'
    CROSS JOIN history_setting AS setting
), ended AS (
    SELECT
        *,
        is_failed AND end_day <= limit_day AS is_failure,
        least(coalesce(CAST(end_day AS DOUBLE), 1e9), limit_day) AS exit_day
    FROM placed
), aged AS (
    SELECT
    ended.spell_no, ended.slot_no, ended.life, ended.generation, ended.unit_id, ended.family, ended.usage_class,
    ended.site, ended.stick, ended.sensor_type, ended.batch,
    ended.start_day IS NOT NULL AS is_age_known_days,
    ended.start_h IS NOT NULL AS is_age_known_h,
    ended.entry_day - coalesce(ended.start_day, ended.opened_day) AS entry_days,
    ended.exit_day - coalesce(ended.start_day, ended.opened_day) AS exit_days,
    CASE WHEN ended.entry_day > ended.opened_day THEN entered.hours ELSE ended.opened_h END
        - coalesce(ended.start_h, ended.opened_h) AS entry_h,
    CASE
        WHEN point.hours IS NOT NULL THEN point.hours
        WHEN NOT ended.is_failure AND point.last_day > ended.entry_day THEN point.last_hours
    END - coalesce(ended.start_h, ended.opened_h) AS exit_h,
    ended.is_failure
FROM ended
LEFT JOIN hour_point AS point ON point.unit_no = ended.unit_no AND point.day = ended.exit_day
LEFT JOIN hour_point AS entered
    ON entered.unit_no = ended.unit_no AND entered.day = ended.entry_day AND ended.entry_day > ended.opened_day
WHERE ended.exit_day > ended.entry_day
)
SELECT
    * EXCLUDE (entry_h, exit_h),
    CASE WHEN exit_h IS NOT NULL THEN entry_h END AS entry_h,
    CASE WHEN entry_h IS NOT NULL THEN exit_h END AS exit_h
FROM aged;
