-- Grain: one row per spell that a question asks for, on the clock of hours.
CREATE OR REPLACE TEMP VIEW asked_spell AS
SELECT
    family, usage_class, site, stick, sensor_type, batch, depth, mechanism, attempt_number,
    spell_no, slot_no, life, module_no, failed_by, is_registered, is_failure, is_assumed, has_usable_hours,
    at_days > entry_days AS has_day_length,
    coalesce(at_h > entry_h, false) AS has_length,
    is_age_known_h AS is_age_known,
    entry_h AS entry, lower_h AS lower, upper_h AS upper, at_h AS at_time
FROM filtered_spell;
