-- Grain: one row per module whose start, or first good sight, was watched: until it was removed or left.
CREATE OR REPLACE TEMP TABLE module_life_day AS
WITH ending AS (
    SELECT
        slot_no, module_no, event_no, event_day, kind = 'sale' AS is_sale,
        kind = 'job' AND coalesce(is_replacing OR is_scrapped, false) AS is_removal,
        kind = 'job' AND coalesce(is_replacing OR is_scrapped, false)
            AND (is_failed_before OR coalesce(is_found_failed, false)) AS is_failure
    FROM walk
    WHERE kind IN ('return', 'out', 'unit_scrap') OR coalesce(is_replacing OR is_scrapped OR is_leaving, false)
        OR kind = 'sale'
), opening AS (
    SELECT
        spell_no, slot_no, life, module_no, generation,
        is_first_sight, opened_day, opened_reading_day, follow_day
    FROM span WHERE kind = 'first_life'
    QUALIFY row_number() OVER (PARTITION BY slot_no, module_no ORDER BY spell_no) = 1
), ended AS (
    SELECT
        opening.spell_no,
        min(ending.event_day) AS end_day,
        min_by(ending.is_failure, ending.event_no) AS is_failure
    FROM opening JOIN ending
        ON ending.slot_no = opening.slot_no AND ending.module_no = opening.module_no
        AND ending.event_no > opening.spell_no
        AND (ending.event_day > opening.opened_day OR (ending.event_day = opening.opened_day AND NOT ending.is_sale))
    GROUP BY opening.spell_no
)
SELECT opening.*, ended.end_day, coalesce(ended.is_failure, false) AS is_failed
FROM opening LEFT JOIN ended ON ended.spell_no = opening.spell_no;
