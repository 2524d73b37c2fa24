-- Grain: one row per batch code written anywhere: what the delivery says (null: not on record), modules fitted by the end of the log,
-- their spells as asked, and modules of which the batch is only known as found (they came to the bench, so nobody knows of how many).
-- Counts of modules are of the whole log, filtered or not; those of spells are of what was asked.
-- same_code_as: the first other code that differs only in capitals, blanks or signs (null: none).
WITH fitted AS (
    SELECT batch_fitted AS batch, count(*) AS fitted_count, count(*) FILTER (WHERE batch_found <> batch_fitted) AS contradicted_count
    FROM module WHERE batch_fitted IS NOT NULL GROUP BY batch_fitted
), early AS (
    SELECT day.batch, sum(day.fitted_count) AS fitted_early_count
    FROM (
        SELECT batch_fitted AS batch, fitted_day, count(*) AS fitted_count FROM module WHERE batch_fitted IS NOT NULL GROUP BY ALL
    ) AS day
    JOIN part_batch ON part_batch.batch_id = day.batch
    WHERE day.fitted_day < CAST(part_batch.received_on - DATE '1970-01-01' AS INTEGER)
    GROUP BY day.batch
), came AS (
    SELECT slot_no, module_no, batch_found FROM module WHERE batch_found IS NOT NULL AND batch_fitted IS DISTINCT FROM batch_found
), found AS (
    SELECT batch_found AS batch, count(*) AS found_only_count
    FROM module WHERE batch_fitted IS NULL AND batch_found IS NOT NULL GROUP BY batch_found
), later AS (
    -- came in as a batch that the record fits into this stick only later
    SELECT came.batch_found AS batch, count(DISTINCT (came.slot_no, came.module_no)) AS found_before_fitting_count
    FROM came
    JOIN module AS fitting ON fitting.slot_no = came.slot_no AND fitting.module_no > came.module_no
        AND fitting.batch_fitted = came.batch_found
    GROUP BY came.batch_found
), watched AS (
    SELECT
        batch, count(*) FILTER (WHERE has_length) AS spell_count, count(*) FILTER (WHERE has_length AND is_failure) AS failure_count,
        count(*) FILTER (WHERE has_length AND is_open) AS open_count, count(*) FILTER (WHERE NOT has_length) AS no_length_count,
        count(DISTINCT unit) FILTER (WHERE has_length) AS unit_count, max(at_time) FILTER (WHERE has_length) AS longest
    FROM batch_spell GROUP BY batch
), code AS (
    SELECT batch_id AS batch FROM part_batch
    UNION SELECT batch FROM fitted
    UNION SELECT batch FROM found
), folded AS (
    SELECT batch, plain_code(batch) AS plain FROM code
)
SELECT
    code.batch, part_batch.supplier, part_batch.part_type, part_batch.received_on, part_batch.unit_cost,
    CAST(part_batch.qty AS BIGINT) AS received_count,
    part_batch.batch_id IS NOT NULL AS is_on_record, coalesce(part_batch.mixed_flag, false) AS is_mixed,
    CAST(coalesce(fitted.fitted_count, 0) AS BIGINT) AS fitted_count,
    CAST(coalesce(found.found_only_count, 0) AS BIGINT) AS found_only_count,
    CAST(coalesce(early.fitted_early_count, 0) AS BIGINT) AS fitted_early_count,
    CAST(coalesce(fitted.contradicted_count, 0) AS BIGINT) AS contradicted_count,
    CAST(coalesce(later.found_before_fitting_count, 0) AS BIGINT) AS found_before_fitting_count,
    CAST(coalesce(watched.spell_count, 0) AS BIGINT) AS spell_count,
    CAST(coalesce(watched.failure_count, 0) AS BIGINT) AS failure_count,
    CAST(coalesce(watched.open_count, 0) AS BIGINT) AS open_count,
    CAST(coalesce(watched.no_length_count, 0) AS BIGINT) AS no_length_count,
    CAST(coalesce(watched.unit_count, 0) AS BIGINT) AS unit_count, watched.longest,
    (
        SELECT min(other.batch) FROM folded AS other
        WHERE other.plain = folded.plain AND other.batch <> folded.batch AND folded.plain <> ''
    ) AS same_code_as
FROM code
JOIN folded ON folded.batch = code.batch
LEFT JOIN part_batch ON part_batch.batch_id = code.batch
LEFT JOIN fitted ON fitted.batch = code.batch
LEFT JOIN early ON early.batch = code.batch
LEFT JOIN found ON found.batch = code.batch
LEFT JOIN later ON later.batch = code.batch
LEFT JOIN watched ON watched.batch = code.batch
ORDER BY code.batch;
