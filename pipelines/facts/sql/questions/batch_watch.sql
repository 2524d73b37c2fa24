-- Grain: one row per stratum, period and look of fitting, look and batch: modules at risk in that look, and failures found then.
-- Looks are steps of $look_days from the start of the log; ages are counted in looks since that in which a module went into
-- service, $age_looks to an age step. A controller counts once for a batch: what it has of that batch is watched until the first
-- failure found there.
WITH first_found AS (
    -- of failures of one day the first by number
    SELECT batch_no, unit, min(ended_at) AS found_at, min(ended_at + spell_no / 1e9) AS found_first
    FROM batch_dated WHERE is_found GROUP BY batch_no, unit
), alike AS (
    SELECT
        dated.batch_no, dated.stratum, dated.fitting_period,
        CAST(floor(dated.fitted_at / $look_days) AS INTEGER) AS fitted_look,
        CAST(floor(dated.entered_at / $look_days) AS INTEGER) AS first_look,
        CAST(floor(least(dated.ended_at, coalesce(first_found.found_at, 1e9)) / $look_days) AS INTEGER) AS last_look,
        count(*) AS module_count,
        count(*) FILTER (WHERE dated.is_found AND dated.ended_at + dated.spell_no / 1e9 = first_found.found_first) AS failure_count
    FROM batch_dated AS dated
    LEFT JOIN first_found ON first_found.batch_no = dated.batch_no AND first_found.unit = dated.unit
    WHERE dated.entered_at <= coalesce(first_found.found_at, 1e9)
    GROUP BY ALL
), gone AS (
    -- of those that entered together: who was still at risk in a last look, which is so since the last look before
    SELECT
        batch_no, stratum, fitting_period, fitted_look, last_look, failure_count,
        sum(module_count) OVER last_first AS at_risk, coalesce(lead(last_look) OVER last_first + 1, first_look) AS since_look
    FROM alike
    WINDOW last_first AS (
        PARTITION BY batch_no, stratum, fitting_period, fitted_look, first_look ORDER BY last_look DESC
    )
), stepped AS (
    SELECT *, unnest(range(since_look, last_look + 1)) AS look FROM gone
)
SELECT
    stratum, fitting_period, batch_no AS batch, look,
    CAST(floor((look - fitted_look) / $age_looks) AS INTEGER) AS age_step,
    CAST(at_risk AS DOUBLE) AS at_risk,
    CAST(CASE WHEN look = last_look THEN failure_count ELSE 0 END AS DOUBLE) AS failures
FROM stepped;
