-- Grain: one row per row of one file whose key comes again further down in it; the last one counts.
CREATE OR REPLACE TEMP TABLE given_twice AS
WITH many AS (
    SELECT {key}, max(line) AS kept_line FROM {table} WHERE file_id = $file_id GROUP BY {key} HAVING count(*) > 1
), newer AS (
    SELECT {table}.* FROM {table} JOIN many AS older
    ON {table}.file_id = $file_id AND {table}.line = older.kept_line AND {same_as_many}
)
SELECT
    older.rowid AS row_no,
    older.line,
    newer.line AS kept_line,
    {older_row} IS NOT DISTINCT FROM {newer_row} AS is_same,
    {is_other_thing} AS is_other_thing
FROM {table} AS older JOIN newer ON {same_key}
WHERE older.file_id = $file_id AND older.line < newer.line
