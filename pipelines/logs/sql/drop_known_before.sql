-- Grain: one row per row that is there twice: of two equal ones the newer goes, else the older.
DELETE FROM {table} WHERE rowid IN (SELECT CASE WHEN is_same THEN new_row_no ELSE old_row_no END FROM known_before)
