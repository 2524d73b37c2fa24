-- Grain: one row per module that was watched, from the opening of its first spell until it was removed or left.
CREATE OR REPLACE TEMP TABLE module_life_day AS
WITH ending AS (
    SELECT slot_no, module_no, event_no, event_day, kind = 'sale' AS is_sale, is_failed_removal AS is_failure
    FROM walk
    WHERE kind IN ('out', 'unit_scrap', 'sale') OR (kind = 'return' AND NOT is_removed_at_claim) OR is_removal
), opening AS (
    SELECT *
    FROM (
        SELECT
            *, row_number() OVER (PARTITION BY slot_no, module_no ORDER BY spell_no) AS place
        FROM span
    )
    WHERE place = 1
), ended AS (
    SELECT
        opening.spell_no,
        min_by(ending.event_day, ending.event_no) AS end_day,
        min_by(ending.is_failure, ending.event_no) AS is_failure
    FROM opening JOIN ending
        ON ending.slot_no = opening.slot_no AND ending.module_no = opening.module_no
        AND ending.event_no > opening.spell_no
        -- the sale that began it is not its end
        AND NOT (ending.is_sale AND ending.event_day <= opening.opened_day)
    GROUP BY opening.spell_no
), claimed AS (
    -- the warranty job removed the module that came back: its life runs to that job
    SELECT DISTINCT slot_no, module_no FROM walk WHERE kind = 'return' AND is_removed_at_claim
), dated AS (
    SELECT
        opening.spell_no, opening.slot_no, opening.unit_no, opening.life, opening.module_no, opening.generation,
        opening.is_new_module, opening.opened_day, opening.opened_reading_day,
        opening.kind = 'first_life' AND NOT opening.is_first_sight AS is_from_start,
        CASE WHEN claimed.slot_no IS NULL THEN opening.follow_day END AS follow_day,
        ended.end_day, coalesce(ended.is_failure, false) AS is_failed,
        module.start_day, module.hours_counted_from
    FROM opening
    JOIN module ON module.slot_no = opening.slot_no AND module.module_no = opening.module_no
    LEFT JOIN ended ON ended.spell_no = opening.spell_no
    LEFT JOIN claimed ON claimed.slot_no = opening.slot_no AND claimed.module_no = opening.module_no
), limited AS (
    SELECT
        dated.*,
        greatest(CAST(opened_day AS DOUBLE), setting.log_start_day) AS entry_day,
        least(setting.cut_day, coalesce(CAST(follow_day AS DOUBLE), 1e9)) AS limit_day
    FROM dated CROSS JOIN history_setting AS setting
)
SELECT
    *,
    is_from_start AND NOT is_new_module AS is_from_registration,
    is_failed AND end_day <= limit_day AS is_failure,
    least(coalesce(CAST(end_day AS DOUBLE), 1e9), limit_day) AS exit_day
FROM limited;
