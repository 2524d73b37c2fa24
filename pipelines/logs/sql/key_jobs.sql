-- Grain: one row per job without an id: identical rows are one, and the others of a visit are ordered by what they say.
INSERT INTO job (made_key, {columns}, file_id, line)
WITH shared_visit AS (
    SELECT unit_id, stick, received_on FROM unkeyed_job GROUP BY unit_id, stick, received_on HAVING count(*) > 1
), shared AS (
    SELECT *, row_number() OVER (PARTITION BY {columns} ORDER BY line) AS copy_no
    FROM unkeyed_job SEMI JOIN shared_visit USING (unit_id, stick, received_on)
), ordered AS (
    SELECT
        * EXCLUDE (copy_no),
        row_number() OVER (
            PARTITION BY unit_id, stick, received_on
            ORDER BY usage_hours NULLS FIRST, closed_on NULLS FIRST, action, outcome, CAST(row({columns}) AS VARCHAR)
        ) AS order_no
    FROM shared WHERE copy_no = 1
    UNION ALL
    SELECT *, 1 FROM unkeyed_job ANTI JOIN shared_visit USING (unit_id, stick, received_on)
)
SELECT
    concat_ws('|', unit_id, stick, strftime(received_on, '%Y-%m-%d'), order_no), {columns}, file_id, line
FROM ordered
