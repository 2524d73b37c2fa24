-- Grain: one row per spell of a stick of the shop's own controllers (`own_slot`). Ages on both clocks, days of the calendar as
-- numbers before the end of the log (0).
-- kind: what opened it; a first life of unknown age is counted since it was first seen. A life that failed is bounded by
-- lower and upper; one that did not has ended at lower.
CREATE OR REPLACE TEMP TABLE own_spell AS
WITH own AS (
    SELECT own_slot.*, setting.log_start_day, setting.log_end_day FROM own_slot CROSS JOIN history_setting AS setting
), dated AS (
    SELECT
        spell.* EXCLUDE (unit_no, stick, family, usage_class, site),
        own.unit_no, own.unit_id, own.stick, own.family, own.usage_class, own.site, own.log_end_day,
        greatest(unix_date(spell.began_on), own.log_start_day) AS entered_day,
        row_number() OVER (PARTITION BY spell.slot_no ORDER BY spell.spell_no DESC) AS place_from_last,
        lead(spell.module_no) OVER (PARTITION BY spell.slot_no ORDER BY spell.spell_no) AS next_module_no
    FROM spell JOIN own ON own.slot_no = spell.slot_no
)
SELECT
    dated.spell_no, dated.slot_no, dated.unit_no, dated.unit_id, dated.stick, dated.family, dated.usage_class, dated.site,
    module.sensor_type, dated.is_failure, dated.ended_by, dated.began_on, dated.place_from_last, dated.attempt_number,
    module.start_day,
    dated.has_usable_hours AND coalesce(dated.at_h > dated.entry_h, false) AS has_hours,
    dated.at_days > dated.entry_days AS has_days,
    CASE WHEN dated.is_age_known_days THEN dated.kind ELSE 'since_first_seen' END AS kind_days,
    CASE WHEN dated.is_age_known_h THEN dated.kind ELSE 'since_first_seen' END AS kind_h,
    dated.entry_days, dated.lower_days, dated.upper_days, dated.at_days, dated.entry_h, dated.lower_h, dated.upper_h, dated.at_h,
    dated.entered_day - dated.log_end_day AS entered_on,
    dated.entered_day - dated.log_end_day + dated.at_days - dated.entry_days AS ended_on,
    CASE WHEN dated.is_failure THEN dated.entered_day - dated.log_end_day + dated.upper_days - dated.entry_days END AS found_on,
    -- NULL: not put right so far
    CASE WHEN dated.is_failure THEN dated.next_module_no > dated.module_no END AS is_put_right_by_part
FROM dated
JOIN module ON module.slot_no = dated.slot_no AND module.module_no = dated.module_no;
