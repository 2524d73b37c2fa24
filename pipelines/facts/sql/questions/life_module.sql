-- Grain: one row per group of the asked spells: the modules behind them, each once.
WITH seen AS (
    SELECT DISTINCT
        family, usage_class, site, stick, sensor_type, batch, depth, mechanism, attempt_number,
        is_age_known, slot_no, module_no
    FROM asked_spell
    WHERE has_length
)
SELECT * EXCLUDE (slot_no, module_no), CAST(count(*) AS BIGINT) AS module_count FROM seen GROUP BY ALL;
