-- Grain: one row per cell in which an alias stands: it gets the word of its file back.
UPDATE {table} SET {column} = alias_word.before
FROM alias_word
WHERE alias_word.table_name = $table_name AND alias_word.column_name = $column_name
    AND alias_word.file_id = {table}.file_id AND alias_word.line = {table}.line
