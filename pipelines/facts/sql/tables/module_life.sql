-- Grain: one row per module whose life was watched: from its start, or first good sight, to its removal.
CREATE OR REPLACE TABLE module_life AS
WITH placed AS (
    SELECT
        module_life_day.*, spell.unit_id, spell.family, spell.usage_class, spell.site, spell.stick,
        spell.sensor_type, spell.batch, spell.is_age_known_days, spell.is_age_known_h,
        spell.entry_days, spell.entry_h, spell_day.unit_no,
        spell_day.entry_day - spell.entry_days AS day_zero,
        opened.hours AS opened_h,
        least(setting.cut_day, coalesce(CAST(module_life_day.follow_day AS DOUBLE), 1e9)) AS limit_day
    FROM module_life_day
    JOIN spell_day ON spell_day.spell_no = module_life_day.spell_no
    JOIN spell ON spell.spell_no = module_life_day.spell_no
    LEFT JOIN hour_point AS opened
        ON opened.unit_no = spell_day.unit_no AND opened.day = CAST(module_life_day.opened_reading_day AS DOUBLE)
    CROSS JOIN history_setting AS setting
), ended AS (
    SELECT
        *,
        is_failed AND end_day <= limit_day AS is_failure,
        least(coalesce(CAST(end_day AS DOUBLE), 1e9), limit_day) AS exit_day
    FROM placed
)
SELECT
    ended.spell_no, ended.slot_no, ended.life, ended.generation, ended.unit_id, ended.family, ended.usage_class,
    ended.site, ended.stick, ended.sensor_type, ended.batch, ended.is_age_known_days, ended.is_age_known_h,
    ended.entry_days, ended.exit_day - ended.day_zero AS exit_days,
    ended.entry_h,
    CASE
        WHEN point.hours IS NOT NULL OR NOT ended.is_failure
        THEN coalesce(point.hours, point.last_hours) - (ended.opened_h - ended.entry_h)
    END AS exit_h,
    ended.is_failure
FROM ended
LEFT JOIN hour_point AS point ON point.unit_no = ended.unit_no AND point.day = ended.exit_day
WHERE ended.exit_day - ended.day_zero > ended.entry_days;
