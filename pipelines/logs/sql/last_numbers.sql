-- Grain: one row: the last load and the last file number, 0 before the first.
SELECT coalesce(max(load_id), 0), coalesce(max(file_id), 0) FROM ledger
