-- Grain: one row per incoming inspection of a batch for a characteristic on a day, with what the delivery note says of the batch.
SELECT
    batch_inspection.batch_id AS batch, part_batch.supplier, part_batch.part_type, part_batch.qty AS received_count,
    CAST(batch_inspection.inspected_on AS VARCHAR) AS inspected_on, batch_inspection.characteristic,
    batch_inspection.level_letter, batch_inspection.n AS tested_count, batch_inspection.nonconforming AS bad_count,
    batch_inspection.aql AS aql_pct, batch_inspection.ac AS acceptance_number, batch_inspection.decision
FROM batch_inspection
LEFT JOIN part_batch ON part_batch.batch_id = batch_inspection.batch_id
ORDER BY batch_inspection.inspected_on, batch_inspection.batch_id, batch_inspection.characteristic;
