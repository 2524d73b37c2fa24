-- Grain: one row per distinct text of job.action, an ordered list joined by +.
-- What the list says is read once here, not once a job.
CREATE OR REPLACE TEMP TABLE action_kind AS
WITH listed AS (
    SELECT DISTINCT action, string_split(action, '+') AS steps FROM job
)
SELECT
    (row_number() OVER ())::INTEGER AS action_no,
    action,
    [replace(step, 'clean_', '') FOR step IN steps IF starts_with(step, 'clean_')] AS depths,
    len([step FOR step IN steps IF starts_with(step, 'clean_')])::INTEGER AS clean_count,
    len([step FOR step IN steps IF step NOT IN ('test_only', 'scrap')]) > 0 AS is_repair,
    list_contains(steps, 'replace_module') OR list_contains(steps, 'replace_sensor') AS is_replaced,
    list_contains(steps, 'replace_sensor') AND NOT list_contains(steps, 'replace_module') AS is_sensor_only,
    list_contains(steps, 'replace_board') AS is_board_replaced,
    list_contains(steps, 'scrap') AS is_scrapped,
    -- the last clean was followed by a replacement or by scrap, so it failed
    regexp_matches(regexp_replace(action, '^.*clean_', ''), 'replace_|scrap') AND contains(action, 'clean_')
        AS is_last_clean_given_up
FROM listed;
