-- Grain: one row per warranty given: first sales of lot units of the 365 days before a day; NULL: by the end of the log.
SELECT warranty_days, CAST(count(*) AS BIGINT) AS sale_count
FROM lot_unit CROSS JOIN history_setting AS setting
WHERE warranty_days IS NOT NULL AND fate <> 'open'
    AND sold_on > coalesce(CAST($as_of AS DATE), setting.log_end) - 365
    AND ($as_of IS NULL OR sold_on < CAST($as_of AS DATE))
GROUP BY warranty_days
ORDER BY sale_count DESC, warranty_days DESC;
