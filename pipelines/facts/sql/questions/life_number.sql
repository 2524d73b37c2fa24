-- Grain: one row per group of the asked spells: how many there are, and how many the clock cannot use.
SELECT
    family, usage_class, site, stick, sensor_type, batch, depth, mechanism, attempt_number,
    is_age_known, is_failure,
    count(*) FILTER (WHERE NOT is_registered) AS unregistered_count,
    count(*) FILTER (WHERE has_day_length) AS day_count,
    count(*) FILTER (WHERE has_day_length AND NOT has_usable_hours) AS no_hours_count,
    count(*) FILTER (WHERE NOT has_length AND (NOT $is_hours OR has_usable_hours)) AS no_length_count,
    count(*) FILTER (WHERE has_length) AS spell_count,
    count(*) FILTER (WHERE has_length AND is_assumed) AS assumed_count,
    max(at_time) FILTER (WHERE has_length) AS longest
FROM asked_spell
GROUP BY ALL;
