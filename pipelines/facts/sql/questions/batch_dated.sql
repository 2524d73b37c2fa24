-- Grain: one row per module of a supplier batch in days since the start of the log: when it went into service, was first watched, and
-- was found failed or left. Strata (family, usage class, site) and batches are numbered, batches in the order of their names.
-- Nothing found after the end of watching is known.
CREATE OR REPLACE TEMP TABLE batch_dated AS
WITH stratum AS (
    SELECT *, row_number() OVER () AS stratum
    FROM (SELECT DISTINCT family, usage_class, site FROM batch_spell)
), numbered AS (
    SELECT batch, row_number() OVER (ORDER BY batch) - 1 AS batch_no
    FROM (SELECT DISTINCT batch FROM batch_spell WHERE has_length OR is_open)
)
SELECT
    spell.batch, numbered.batch_no, stratum.stratum, spell.unit, spell.spell_no, spell.fitting_period,
    spell.entered_day - spell.entry - setting.log_start_day AS fitted_at,
    spell.entered_day - setting.log_start_day AS entered_at,
    spell.is_failure AND spell.entered_day + spell.upper - spell.entry <= setting.cut_day AS is_found,
    CASE
        WHEN spell.is_failure THEN least(spell.entered_day + spell.upper - spell.entry, setting.cut_day)
        ELSE spell.ended_day
    END - setting.log_start_day AS ended_at
FROM batch_spell AS spell
CROSS JOIN history_setting AS setting
JOIN numbered ON numbered.batch = spell.batch
JOIN stratum ON stratum.family IS NOT DISTINCT FROM spell.family
    AND stratum.usage_class IS NOT DISTINCT FROM spell.usage_class AND stratum.site IS NOT DISTINCT FROM spell.site
WHERE spell.has_length OR spell.is_open;
