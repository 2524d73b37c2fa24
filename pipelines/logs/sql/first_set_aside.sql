-- Grain: one row: the first row set aside by the latest load.
SELECT file, sheet, line, column_name, value, reason, remedy
FROM set_aside
WHERE is_row AND load_id = (SELECT max(load_id) FROM set_aside)
ORDER BY file_id, line
LIMIT 1
