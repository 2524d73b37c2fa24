-- Grain: one row per canonical table of the attached warehouse; the histories are built anew beside them.
SELECT table_name
FROM duckdb_tables()
WHERE database_name = 'fleet' AND table_name IN (
    'job', 'unit', 'lot', 'part_batch', 'batch_inspection', 'usage_reading', 'downtime', 'assignment', 'price', 'sale',
    'limit_row', 'alias'
);
