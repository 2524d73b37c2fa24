-- Grain: one row per stratum, period of fitting, age step, look and batch: modules at risk in that look, and failures found then.
-- Strata (family, usage class, site) and batches are numbered, batches in the order of their names. Looks are steps of $look_days
-- from the start of the log; ages are counted in looks since that in which a module went into service, $age_looks to an age step.
-- Nothing found after the end of watching is known. A controller counts once for a batch: what it has of that batch is watched
-- until the first failure found there.
WITH stratum AS (
    SELECT *, row_number() OVER () AS stratum
    FROM (SELECT DISTINCT family, usage_class, site FROM batch_spell)
), numbered AS (
    SELECT batch, row_number() OVER (ORDER BY batch) - 1 AS batch_no
    FROM (SELECT DISTINCT batch FROM batch_spell WHERE has_length OR is_open)
), dated AS (
    SELECT
        numbered.batch_no, stratum.stratum, spell.unit, spell.spell_no, spell.fitting_period,
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
    WHERE spell.has_length OR spell.is_open
), first_found AS (
    SELECT batch_no, unit, min(ended_at) AS found_at, min_by(spell_no, ended_at + spell_no / 1e12) AS spell_no
    FROM dated WHERE is_found GROUP BY batch_no, unit
), alike AS (
    SELECT
        dated.batch_no, dated.stratum, dated.fitting_period,
        CAST(floor(dated.fitted_at / $look_days) AS INTEGER) AS fitted_look,
        CAST(floor(dated.entered_at / $look_days) AS INTEGER) AS first_look,
        CAST(floor(least(dated.ended_at, coalesce(first_found.found_at, 1e9)) / $look_days) AS INTEGER) AS last_look,
        count(*) AS module_count, count(*) FILTER (WHERE dated.spell_no = first_found.spell_no) AS failure_count
    FROM dated
    LEFT JOIN first_found ON first_found.batch_no = dated.batch_no AND first_found.unit = dated.unit
    WHERE dated.entered_at <= coalesce(first_found.found_at, 1e9)
    GROUP BY ALL
), stepped AS (
    SELECT *, unnest(range(first_look, last_look + 1)) AS look FROM alike
)
SELECT
    stratum, fitting_period, batch_no AS batch, look,
    CAST(floor((look - fitted_look) / $age_looks) AS INTEGER) AS age_step,
    CAST(sum(module_count) AS DOUBLE) AS at_risk,
    CAST(sum(CASE WHEN look = last_look THEN failure_count ELSE 0 END) AS DOUBLE) AS failures
FROM stepped
GROUP BY ALL;
