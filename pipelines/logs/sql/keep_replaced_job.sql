-- Grain: one row per version of a job that this file replaces.
INSERT INTO replaced_job
SELECT
    $load_id, older.job_key, older.file_id, older.line, $file_id, known_before.line,
    to_json(older)
FROM known_before JOIN job AS older ON older.rowid = known_before.old_row_no
WHERE NOT known_before.is_same
