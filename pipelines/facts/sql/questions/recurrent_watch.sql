-- Grain: one row per group, unit and interval in which at least one of its sticks was in service and good, merged where
-- the spells of its sticks overlap or touch. Bench, shelf and storage lie between the intervals. An interval is ended by
-- failure where its last failure is what took the unit out of it: it lasts to the visit that found this one.
WITH keyed AS (
    -- (one number for a group sorts faster than its six words)
    SELECT
        hash(family, usage_class, site, stick, sensor_type, batch) AS group_key,
        unit, is_age_known, entry, exit, spell_no, at_time, is_failure
    FROM recurrent_spell
), named AS (
    SELECT DISTINCT
        family, usage_class, site, stick, sensor_type, batch,
        hash(family, usage_class, site, stick, sensor_type, batch) AS group_key
    FROM recurrent_spell
), reached AS (
    SELECT *, max(exit) OVER (
        -- (spells alike in age keep one order in both windows)
        PARTITION BY unit, group_key ORDER BY entry, exit, spell_no ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
    ) AS watched_until
    FROM keyed
), numbered AS (
    SELECT *, count(*) FILTER (WHERE watched_until IS NULL OR entry > watched_until) OVER (
        PARTITION BY unit, group_key ORDER BY entry, exit, spell_no ROWS UNBOUNDED PRECEDING
    ) AS interval_no
    FROM reached
), merged AS (
    SELECT
        group_key, unit, is_age_known, min(entry) AS entry, max(exit) AS exit,
        arg_max(exit, {'at': at_time, 'found': exit}) FILTER (WHERE is_failure) = max(exit) AS is_ended_by_failure
    FROM numbered
    GROUP BY group_key, unit, is_age_known, interval_no
)
SELECT
    named.family, named.usage_class, named.site, named.stick, named.sensor_type, named.batch,
    merged.unit, merged.is_age_known, merged.entry, merged.exit, coalesce(merged.is_ended_by_failure, false) AS is_ended_by_failure
FROM merged JOIN named ON named.group_key = merged.group_key;
