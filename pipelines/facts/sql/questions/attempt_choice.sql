-- Grain: one row per grouping column and value that occurs among the attempts.
SELECT grouping, value, count(*) AS row_count
FROM (
    SELECT unnest(['family', 'usage_class', 'site', 'stick', 'sensor_type', 'batch', 'depth', 'mechanism', 'attempt_number']) AS grouping,
        unnest([family, usage_class, site, stick, sensor_type, batch, depth, mechanism, CAST(attempt_number AS VARCHAR)]) AS value
    FROM described_attempt
)
WHERE value IS NOT NULL
GROUP BY grouping, value
ORDER BY grouping, length(value), value;
