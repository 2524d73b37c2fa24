-- Grain: one row: first lives asked for that are of no batch: modules that a controller came with, and modules fitted without a batch.
SELECT
    CAST(count(*) FILTER (WHERE NOT is_fitted_here) AS BIGINT) AS original_count,
    CAST(count(*) FILTER (WHERE is_fitted_here) AS BIGINT) AS no_batch_count
FROM asked_spell WHERE batch_fitted IS NULL;
