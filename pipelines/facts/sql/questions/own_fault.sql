-- Grain: one row per fault of an own stick found in the last $since_days days of the log.
SELECT unit_id, stick, site, family, found_on
FROM own_spell
WHERE is_failure AND found_on > -$since_days
ORDER BY unit_id, stick, found_on;
