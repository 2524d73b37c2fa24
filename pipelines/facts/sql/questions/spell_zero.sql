-- Grain: one row per asked spell that the clock can use: the day (since 1970-01-01), or the play hours of its controller
-- in one count over meter changes, from which its ages count. So the spells of a module or a controller line up.
-- Hours: a spell ends at a reading, between two (on the line), or at its last one; its own age goes back from there.
CREATE OR REPLACE TEMP TABLE spell_zero AS
WITH described AS (
    SELECT
        asked_spell.spell_no, slot.unit_no, asked_spell.entry,
        coalesce(asked_spell.upper, asked_spell.at_time) AS last_age,
        greatest(CAST(spell.began_on - DATE '1970-01-01' AS DOUBLE), setting.log_start_day) AS entered_day,
        coalesce(spell.upper_days, spell.at_days) - spell.entry_days AS length_days
    FROM asked_spell
    JOIN spell ON spell.spell_no = asked_spell.spell_no
    JOIN slot ON slot.slot_no = asked_spell.slot_no
    CROSS JOIN history_setting AS setting
    WHERE asked_spell.entry IS NOT NULL
), metered AS (
    SELECT
        unit_no, CAST(day AS DOUBLE) AS day, hours,
        CASE WHEN lead(unit_no) OVER () = unit_no THEN lead(day) OVER () END AS next_day,
        CASE WHEN lead(unit_no) OVER () = unit_no THEN lead(hours) OVER () END AS next_hours
    FROM (SELECT unit_no, day, hours FROM reading WHERE doubt IS NULL AND $is_hours ORDER BY unit_no, day)
), ended AS (
    SELECT
        ending.spell_no,
        CASE
            WHEN metered.next_day IS NULL OR metered.day = ending.day THEN metered.hours
            ELSE metered.hours
                + (metered.next_hours - metered.hours) * (ending.day - metered.day) / (metered.next_day - metered.day)
        END AS hours
    FROM (SELECT spell_no, unit_no, entered_day + length_days AS day FROM described WHERE $is_hours) AS ending
    ASOF JOIN metered ON metered.unit_no = ending.unit_no AND metered.day <= ending.day
)
SELECT
    described.spell_no,
    CASE WHEN $is_hours THEN ended.hours - described.last_age ELSE described.entered_day - described.entry END AS zero_at
FROM described LEFT JOIN ended ON ended.spell_no = described.spell_no;
