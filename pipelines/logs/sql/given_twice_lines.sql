-- Grain: one row per line that comes again further down with other content, and has no row left.
SELECT line, max(kept_line) AS kept_line, bool_or(is_other_thing) AS is_other_thing
FROM given_twice
WHERE NOT is_same AND line NOT IN (SELECT line FROM {table} WHERE file_id = $file_id)
GROUP BY line
ORDER BY line
