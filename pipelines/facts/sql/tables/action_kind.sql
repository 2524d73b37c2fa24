-- Grain: one row per distinct text of job.action, an ordered list joined by +.
-- What the list says is read once here, not once a job. Two types hold what was found and done as a byte for each job.
CREATE OR REPLACE TEMP TABLE action_kind AS
WITH listed AS (
    SELECT action, string_split(action, '+') AS steps FROM (SELECT DISTINCT action FROM job)
)
SELECT
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
CREATE OR REPLACE TEMP TYPE depth_word AS ENUM (SELECT DISTINCT unnest(depths) AS depth FROM action_kind ORDER BY depth);
CREATE OR REPLACE TEMP TYPE mechanism_word AS ENUM (
    SELECT DISTINCT failure_mechanism FROM job WHERE failure_mechanism IS NOT NULL ORDER BY failure_mechanism
);
