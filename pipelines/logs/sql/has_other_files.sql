-- Grain: one row if the table has rows of other files, none otherwise.
SELECT 1 FROM {table} WHERE file_id <> $file_id LIMIT 1
