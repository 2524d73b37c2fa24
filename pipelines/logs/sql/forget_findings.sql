-- Grain: one row per finding of an earlier reading of the same file.
DELETE FROM set_aside WHERE file_id IN (SELECT file_id FROM ledger WHERE sha256 = ?)
