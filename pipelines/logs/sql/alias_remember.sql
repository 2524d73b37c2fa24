-- Grain: one row per cell in which an alias will stand.
INSERT INTO alias_word
SELECT DISTINCT $table_name, $column_name, {table}.file_id, {table}.line, {table}.{column}
FROM {table} JOIN arriving ON arriving.before = {table}.{column}
