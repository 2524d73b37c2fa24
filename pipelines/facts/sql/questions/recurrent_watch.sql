-- Grain: one row per group, unit and interval in which at least one of its sticks was in service and good, merged where
-- the spells of its sticks overlap or touch. Bench, shelf and storage lie between the intervals. An interval is ended by
-- failure where its last failure is what took the unit out of it: it lasts to the visit that found this one.
WITH reached AS (
    SELECT *, max(exit) OVER (
        PARTITION BY unit, family, usage_class, site, stick, sensor_type, batch
        -- (spells alike in age keep one order in both windows)
        ORDER BY entry, exit, spell_no ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
    ) AS watched_until
    FROM recurrent_spell
), numbered AS (
    SELECT *, count(*) FILTER (WHERE watched_until IS NULL OR entry > watched_until) OVER (
        PARTITION BY unit, family, usage_class, site, stick, sensor_type, batch
        ORDER BY entry, exit, spell_no ROWS UNBOUNDED PRECEDING
    ) AS interval_no
    FROM reached
)
SELECT
    family, usage_class, site, stick, sensor_type, batch, unit, is_age_known, min(entry) AS entry, max(exit) AS exit,
    coalesce(arg_max(exit, {'at': at_time, 'found': exit}) FILTER (WHERE is_failure) = max(exit), false) AS is_ended_by_failure
FROM numbered
GROUP BY family, usage_class, site, stick, sensor_type, batch, unit, is_age_known, interval_no;
