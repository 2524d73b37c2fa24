-- Grain: one row per job without an id that an earlier file gave of a unit, stick and day of which this file tells, but not
-- that job: the later file tells all that was done, and with ids where it has them.
INSERT INTO known_before
SELECT older.rowid, newer.rowid, newer.line, false
FROM job AS older JOIN (
    SELECT unit_id, stick, received_on, min(line) AS line, min_by(rowid, line) AS rowid
    FROM job
    WHERE file_id = $file_id AND (unit_id, stick, received_on) IN (
        SELECT (unit_id, stick, received_on) FROM job WHERE job_id IS NULL AND file_id <> $file_id
    )
    GROUP BY unit_id, stick, received_on
) AS newer
    ON newer.unit_id = older.unit_id AND newer.stick = older.stick AND newer.received_on = older.received_on
WHERE older.file_id <> $file_id AND older.job_id IS NULL
    AND older.rowid NOT IN (SELECT old_row_no FROM known_before)
