-- Grain: one row per row of one file that names a job without an id.
CREATE OR REPLACE TEMP TABLE unkeyed_job AS SELECT * EXCLUDE (made_key, job_key) FROM job LIMIT 0
