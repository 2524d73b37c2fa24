-- Grain: one row: how many lines of the file still have a row in the table.
SELECT count(DISTINCT line) FROM {table} WHERE file_id = $file_id
