-- Grain: one row: first lives asked for that are of no batch: modules that a controller came with, modules fitted without a batch, and
-- modules fitted with a label that names several.
SELECT
    CAST(count(*) FILTER (WHERE NOT asked_spell.is_fitted_here) AS BIGINT) AS original_count,
    CAST(count(*) FILTER (WHERE asked_spell.is_fitted_here AND module.batches_named IS NULL) AS BIGINT) AS no_batch_count,
    CAST(count(*) FILTER (WHERE asked_spell.is_fitted_here AND module.batches_named IS NOT NULL) AS BIGINT) AS several_count
FROM asked_spell
JOIN module ON module.slot_no = asked_spell.slot_no AND module.module_no = asked_spell.module_no
WHERE asked_spell.batch_fitted IS NULL;
