-- Grain: one row per group, use of the unit and distinct (entry, lower, upper, time, end) of the rounded spells, with
-- their number. Use is the unit's play hours a day from its first to its last good reading, in steps of $step of its
-- logarithm; NULL where there are no two readings on different days, or nobody played between them.
WITH unit_use AS (
    SELECT unit_no, (max(hours) - min(hours)) / nullif(max(day) - min(day), 0) AS rate
    FROM reading
    WHERE doubt IS NULL
    GROUP BY unit_no
)
SELECT
    rounded_spell.family, rounded_spell.usage_class, rounded_spell.site, rounded_spell.stick, rounded_spell.sensor_type,
    rounded_spell.batch, rounded_spell.depth, rounded_spell.mechanism, rounded_spell.attempt_number,
    rounded_spell.is_age_known,
    CASE WHEN unit_use.rate > 0 THEN exp(round(ln(unit_use.rate) / $step) * $step) END AS hours_per_day,
    rounded_spell.entry, rounded_spell.lower, rounded_spell.upper, rounded_spell.at_time, rounded_spell.is_failure,
    CAST(count(*) AS BIGINT) AS spell_count
FROM rounded_spell
JOIN slot ON slot.slot_no = rounded_spell.slot_no
LEFT JOIN unit_use ON unit_use.unit_no = slot.unit_no
GROUP BY ALL;
