-- Grain: one row per row of one file whose key an earlier file gave.
CREATE OR REPLACE TEMP TABLE known_before AS
SELECT
    older.rowid AS old_row_no,
    newer.rowid AS new_row_no,
    newer.line,
    {older_row} IS NOT DISTINCT FROM {newer_row} AS is_same
FROM {table} AS newer JOIN {table} AS older ON {same_key} AND older.file_id <> $file_id
WHERE newer.file_id = $file_id
