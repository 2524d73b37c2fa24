-- Grain: one row per batch: squares of failures less those expected under the law in batch_law, summed over controllers and over
-- modules; and the failures expected in a day of the modules still watched, at their ages and at the pace of use they had so far.
WITH due AS MATERIALIZED (
    SELECT
        row.batch_no, row.unit,
        CAST(row.is_failure AS INTEGER) - batch_factor.factor * (
            reached.until_step + reached.hazard * (row.at_time - reached.from_age)
            - coalesce(entered.until_step + entered.hazard * (row.entry - entered.from_age), 0)
        ) AS beyond,
        CASE WHEN row.is_open THEN reached.hazard * row.at_time / row.at_days END AS per_day
    FROM batch_row AS row
    JOIN batch_factor ON batch_factor.batch_no = row.batch_no
    JOIN batch_law AS reached ON reached.stratum_no = row.stratum_no AND reached.step = row.at_step
    LEFT JOIN batch_law AS entered
        ON row.entry > 0 AND entered.stratum_no = row.stratum_no AND entered.step = row.entry_step
), unit AS (
    -- (nearly as many groups as modules: only what needs them is summed by controller)
    SELECT batch_no, sum(total ** 2) AS by_unit
    FROM (SELECT batch_no, sum(beyond) AS total FROM due GROUP BY batch_no, unit)
    GROUP BY batch_no
), module AS (
    SELECT batch_no, sum(beyond ** 2) AS by_module, coalesce(sum(per_day), 0) AS expected_per_day FROM due GROUP BY batch_no
)
SELECT module.batch_no, unit.by_unit, module.by_module, module.expected_per_day
FROM module JOIN unit ON unit.batch_no = module.batch_no
ORDER BY module.batch_no;
