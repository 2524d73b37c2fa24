-- Grain: one row per row of one file that names a job without an id.
CREATE OR REPLACE TEMP TABLE unkeyed_job AS SELECT * EXCLUDE (job_key) FROM job LIMIT 0
