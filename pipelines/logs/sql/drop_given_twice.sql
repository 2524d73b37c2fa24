-- Grain: one row per row that comes again further down in its file.
DELETE FROM {table} WHERE rowid IN (SELECT row_no FROM given_twice)
