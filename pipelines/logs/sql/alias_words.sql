-- Grain: one row per different word in the column.
SELECT DISTINCT {column} FROM {table} WHERE {column} IS NOT NULL
