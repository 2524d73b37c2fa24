-- Grain: one row per spell with length of `own_spell`. A failure is dated at the midpoint of its bounds.
CREATE OR REPLACE TEMP TABLE seat_spell AS
SELECT
    spell_no, unit_no, unit_id, stick, family, usage_class, site, is_failure, at_days - entry_days AS days,
    CASE WHEN has_hours THEN at_h - entry_h END AS hours, entered_on, ended_on,
    ended_by = 'open' AND place_from_last = 1 AS is_in_service
FROM own_spell
WHERE has_days OR has_hours;
