-- Grain: one row per line of an export whose play hours were not used, in the columns of set_aside.
WITH doubted AS (
    SELECT DISTINCT slot.unit_id, DATE '1970-01-01' + reading.day AS on_day, reading.doubt
    FROM reading JOIN slot ON slot.unit_no = reading.unit_no
    WHERE reading.doubt IS NOT NULL
), stated AS (
    SELECT job.file_id, job.line, 'usage_hours' AS column_name, job.usage_hours AS hours, doubted.doubt
    FROM doubted JOIN job ON job.unit_id = doubted.unit_id AND job.received_on = doubted.on_day
    WHERE job.usage_hours IS NOT NULL
    UNION ALL
    SELECT usage_reading.file_id, usage_reading.line, 'hours', usage_reading.hours, doubted.doubt
    FROM doubted JOIN usage_reading
        ON usage_reading.unit_id = doubted.unit_id AND CAST(usage_reading.read_on AS DATE) = doubted.on_day
), known_file AS (
    SELECT file_id, max(load_id) AS load_id, min(file) AS file, min(sheet) AS sheet FROM ledger GROUP BY file_id
)
SELECT
    known_file.load_id, stated.file_id, known_file.file, known_file.sheet, stated.line, stated.column_name,
    CAST(stated.hours AS VARCHAR) AS value,
    CASE stated.doubt
        WHEN 'hours_fell' THEN 'the hours are lower than at an earlier date'
        ELSE 'the calendar does not hold so many hours'
    END AS reason,
    'Correct the hours. If the meter was changed, load a table of usage readings in which that reading is marked as a meter reset.' AS remedy,
    false AS is_row
FROM stated LEFT JOIN known_file ON known_file.file_id = stated.file_id
ORDER BY stated.file_id, stated.line;
