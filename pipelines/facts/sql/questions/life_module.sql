-- Grain: one row per group of the asked spells: the modules behind them, each once.
SELECT
    family, usage_class, site, stick, sensor_type, batch, depth, mechanism, attempt_number,
    is_age_known,
    count(DISTINCT CAST(slot_no AS BIGINT) * 10000 + module_no) AS module_count
FROM asked_spell
WHERE has_length
GROUP BY ALL;
