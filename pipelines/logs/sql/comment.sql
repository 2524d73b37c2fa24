-- Grain: one comment, on one column.
COMMENT ON COLUMN {table}."{column}" IS '{comment}'
