-- Grain: one row per spell with length of the shop's own controllers: registered ones (any, where there is no register) that were
-- not sold by the end of the log. Days are numbers before the end of the log (0); a failure is dated at the midpoint of its bounds.
CREATE OR REPLACE TEMP TABLE seat_spell AS
WITH timed AS (
    SELECT
        spell.spell_no, slot.unit_no, slot.unit_id, slot.stick, slot.family, slot.usage_class, slot.site, spell.is_failure,
        spell.at_days - spell.entry_days AS days,
        CASE WHEN spell.has_usable_hours THEN nullif(spell.at_h - spell.entry_h, 0) END AS hours,
        greatest(unix_date(spell.began_on), setting.log_start_day) - setting.log_end_day AS entered_on,
        spell.ended_by = 'open' AND lead(spell.spell_no) OVER (PARTITION BY spell.slot_no ORDER BY spell.spell_no) IS NULL
            AS is_in_service
    FROM spell
    JOIN slot ON slot.slot_no = spell.slot_no
    CROSS JOIN history_setting AS setting
    WHERE coalesce(slot.last_sold_day > setting.log_end_day, true)
        AND (slot.is_registered OR NOT EXISTS (SELECT 1 FROM unit))
)
SELECT *, entered_on + days AS ended_on
FROM timed
WHERE days > 0 OR hours > 0;
