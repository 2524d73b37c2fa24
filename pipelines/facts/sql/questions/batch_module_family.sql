-- Grain: one row per family with failures of modules that are of the batch: how many.
SELECT family, CAST(sum(failure_count) AS BIGINT) AS failure_count
FROM batch_module
WHERE hold IN ('fitted', 'found') AND failure_count > 0
GROUP BY family
ORDER BY family NULLS LAST;
