-- Grain: one row per money column of a file and currency written in it, in a cell or its heading, with the line where it first
-- stands; files in the order loaded.
-- A file whose rows have all been replaced since does not count.
WITH standing AS (
    SELECT 'jobs' AS table_name, file_id FROM job
    UNION SELECT 'lots', file_id FROM lot
    UNION SELECT 'sales', file_id FROM sale
    UNION SELECT 'prices', file_id FROM price
    UNION SELECT 'part_batches', file_id FROM part_batch
    UNION SELECT 'downtime', file_id FROM downtime
), named AS (SELECT file_id, min(file) AS file, min(sheet) AS sheet FROM ledger GROUP BY file_id)
SELECT
    concat(file, CASE WHEN sheet <> '' THEN ', sheet ' || sheet ELSE '' END, ', column ', header) AS place,
    unnest(string_split(currency, '|')) AS currency,
    CAST(unnest(string_split(currency_line, '|')) AS BIGINT) AS line
FROM loaded_column
SEMI JOIN standing USING (table_name, file_id)
LEFT JOIN named USING (file_id)
WHERE currency <> ''
ORDER BY file_id, place, currency;
