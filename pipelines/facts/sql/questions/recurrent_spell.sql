-- Grain: one row per asked spell with length, as ages of its controller; `unit` is the controller or ($is_by_stick) one
-- stick of it. A tag used again after a scrap is another controller, of unknown age.
CREATE OR REPLACE TEMP TABLE recurrent_spell AS
WITH unit_known AS (
    -- the day, or the meter's hours, at which the controller was new; a module counted by the meter is as old as it
    SELECT
        slot.unit_no,
        min(CASE
            WHEN slot.is_registered AND slot.new_or_used = 'new' THEN CASE WHEN $is_hours THEN 0 ELSE slot.in_service_day END
            WHEN module.hours_counted_from = 'meter' THEN CASE WHEN $is_hours THEN 0 ELSE module.start_day END
        END) AS new_at
    FROM slot LEFT JOIN module ON module.slot_no = slot.slot_no AND module.module_no = 0
    GROUP BY slot.unit_no
), placed AS (
    SELECT asked_spell.*, spell_zero.zero_at
    FROM asked_spell
    JOIN spell_zero ON spell_zero.spell_no = asked_spell.spell_no
    WHERE asked_spell.has_length AND spell_zero.zero_at IS NOT NULL
), unit_origin AS (
    SELECT
        seen.unit_no, seen.life, coalesce(seen.life = 0 AND unit_known.new_at <= seen.seen_at, false) AS is_age_known,
        CASE WHEN seen.life = 0 AND unit_known.new_at <= seen.seen_at THEN unit_known.new_at ELSE seen.seen_at END
            AS origin_at
    FROM (SELECT unit_no, life, min(zero_at + entry) AS seen_at FROM placed GROUP BY unit_no, life) AS seen
    JOIN unit_known ON unit_known.unit_no = seen.unit_no
)
SELECT
    placed.family, placed.usage_class, placed.site, placed.stick, placed.sensor_type, placed.batch,
    CAST(CASE WHEN $is_by_stick THEN placed.slot_no ELSE placed.unit_no END AS BIGINT) * 1000 + placed.life AS unit,
    unit_origin.is_age_known, placed.spell_no, placed.slot_no, placed.module_no, placed.is_failure, placed.failed_by,
    -- (rounded, so that a sum of ages falls neither below 0 nor short of the next one)
    round(zero_at - origin_at + entry, 6) AS entry,
    round(zero_at - origin_at + at_time, 6) AS at_time,
    -- a failed stick is watched up to the visit that found it
    round(zero_at - origin_at + coalesce(upper, at_time), 6) AS exit
FROM placed JOIN unit_origin ON unit_origin.unit_no = placed.unit_no AND unit_origin.life = placed.life;
