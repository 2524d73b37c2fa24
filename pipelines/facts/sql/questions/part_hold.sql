-- Grain: one row per family and distinct (days watched, end) of the modules that a job of this log fitted, with their number:
-- how long each was good. Days from its fitting; a module that never went into service again was not watched.
WITH fitted AS (
    SELECT slot.family, spell.at_days - spell.entry_days AS held, spell.is_failure
    FROM spell
    JOIN slot ON slot.slot_no = spell.slot_no
    JOIN module ON module.slot_no = spell.slot_no AND module.module_no = spell.module_no
    WHERE spell.kind = 'first_life' AND module.is_fitted_here AND spell.entry_days = 0 AND spell.at_days > 0
)
SELECT
    family, CASE WHEN $grid > 0 THEN greatest(round(held / $grid), 1) * $grid ELSE held END AS at_time, is_failure,
    CAST(count(*) AS BIGINT) AS part_count
FROM fitted
GROUP BY ALL
ORDER BY ALL;
