-- Grain: one row per failure of the recurrent spells: its group, unit and age.
SELECT family, usage_class, site, stick, sensor_type, batch, unit, is_age_known, at_time
FROM recurrent_spell
WHERE is_failure;
