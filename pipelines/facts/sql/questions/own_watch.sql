-- Grain: one row per own spell with length on some clock: unit, site, the law it follows, its ages on both clocks (NULL where it
-- has no length on that one), whether it failed, and its days of the calendar. upper is infinite where nothing failed.
SELECT
    unit_id AS unit, site, family, usage_class, is_failure, entered_on, ended_on, kind_h, kind_days, has_hours, has_days,
    CASE WHEN has_hours THEN entry_h END AS entry_h, CASE WHEN has_hours THEN greatest(lower_h, entry_h) END AS lower_h,
    CASE WHEN has_hours AND is_failure THEN upper_h WHEN has_hours THEN CAST('infinity' AS DOUBLE) END AS upper_h,
    CASE WHEN has_hours THEN at_h END AS at_h,
    CASE WHEN has_days THEN entry_days END AS entry_days, CASE WHEN has_days THEN greatest(lower_days, entry_days) END AS lower_days,
    CASE WHEN has_days AND is_failure THEN upper_days WHEN has_days THEN CAST('infinity' AS DOUBLE) END AS upper_days,
    CASE WHEN has_days THEN at_days END AS at_days
FROM own_spell
WHERE has_hours OR has_days
ORDER BY unit_id, slot_no, place_from_last;
