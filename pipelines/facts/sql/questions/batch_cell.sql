-- Grain: one row per stratum, batch, age step and whether it is where spells ended or (late entries only) began: how many, the sum of
-- the ages of those that did not fail, and failures.
SELECT
    stratum_no, batch_no, at_step AS step, false AS is_entry, CAST(count(*) AS BIGINT) AS spell_count,
    coalesce(sum(at_time) FILTER (WHERE NOT is_failure), 0) AS age_sum,
    CAST(count(*) FILTER (WHERE is_failure) AS BIGINT) AS failure_count
FROM batch_row GROUP BY stratum_no, batch_no, at_step
UNION ALL
SELECT stratum_no, batch_no, entry_step, true, CAST(count(*) AS BIGINT), sum(entry), 0
FROM batch_row WHERE entry > 0 GROUP BY stratum_no, batch_no, entry_step;
