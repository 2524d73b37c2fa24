-- Grain: one row per batch that is on record only on modules that came to the bench, never where one was fitted: how many came.
SELECT batch_found AS batch, CAST(count(*) AS BIGINT) AS found_count
FROM module
WHERE batch_found NOT IN (SELECT batch_fitted FROM module WHERE batch_fitted IS NOT NULL)
GROUP BY batch_found
ORDER BY batch_found;
