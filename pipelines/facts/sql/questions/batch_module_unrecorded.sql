-- Grain: one row: modules without a batch on record fitted while the batch was in stock, and how many of them are in service.
SELECT CAST(count(*) AS BIGINT) AS module_count, CAST(count(*) FILTER (WHERE state = 'in_service') AS BIGINT) AS in_service_count
FROM batch_module WHERE hold = 'unrecorded';
