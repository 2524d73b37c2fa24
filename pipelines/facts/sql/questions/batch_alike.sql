-- Grain: one row per batch: squares of failures less those expected under the law in batch_law, summed over controllers and over
-- modules; and the failures expected in a day of the modules still watched, at their ages and at the pace of use they had so far.
WITH due AS (
    SELECT
        row.batch_no, row.unit, row.is_failure,
        reached.until_step + reached.hazard * (row.at_time - reached.from_age)
            - coalesce(entered.until_step + entered.hazard * (row.entry - entered.from_age), 0) AS expected,
        CASE WHEN row.is_open THEN reached.hazard * row.at_time / row.at_days END AS per_day
    FROM batch_row AS row
    JOIN batch_law AS reached ON reached.stratum_no = row.stratum_no AND reached.step = row.at_step
    LEFT JOIN batch_law AS entered
        ON row.entry > 0 AND entered.stratum_no = row.stratum_no AND entered.step = row.entry_step
), unit AS (
    SELECT
        due.batch_no, sum(CAST(is_failure AS INTEGER) - factor * expected) AS total,
        sum((CAST(is_failure AS INTEGER) - factor * expected) ** 2) AS squares, sum(per_day) AS per_day
    FROM due JOIN batch_factor ON batch_factor.batch_no = due.batch_no
    GROUP BY due.batch_no, unit
)
SELECT batch_no, sum(total ** 2) AS by_unit, sum(squares) AS by_module, coalesce(sum(per_day), 0) AS expected_per_day
FROM unit GROUP BY batch_no ORDER BY batch_no;
