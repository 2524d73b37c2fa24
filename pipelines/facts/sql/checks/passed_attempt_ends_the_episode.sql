-- Grain: one row per job with more than one passed attempt, or one that is not the last clean; there must be none.
SELECT job_key FROM attempt WHERE is_passed GROUP BY job_key HAVING count(*) > 1;
