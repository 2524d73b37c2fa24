-- Grain: one row per own stick in service at the end of the log: its last spell is open and was watched until then.
-- hours_per_day: of its unit, from the good readings of the last 364 days, or where those are under 28 days apart from all;
-- NULL where they do not say. age_h goes on at that pace since the last reading. faults_before: of the stick, on record.
WITH pace AS (
    SELECT
        reading.unit_no, max(reading.day) - max(setting.log_end_day) AS last_read_on,
        max(hours) FILTER (WHERE day >= setting.log_end_day - 364) - min(hours) FILTER (WHERE day >= setting.log_end_day - 364)
            AS recent_h,
        max(day) FILTER (WHERE day >= setting.log_end_day - 364) - min(day) FILTER (WHERE day >= setting.log_end_day - 364)
            AS recent_days,
        max(hours) - min(hours) AS all_h, nullif(max(day) - min(day), 0) AS all_days
    FROM reading CROSS JOIN history_setting AS setting
    WHERE reading.doubt IS NULL
    GROUP BY reading.unit_no
), paced AS (
    SELECT unit_no, last_read_on, CASE WHEN recent_days >= 28 THEN recent_h / recent_days ELSE all_h / all_days END AS hours_per_day
    FROM pace
), before AS (
    SELECT slot_no, count(*) FILTER (WHERE is_failure) AS fault_count FROM own_spell GROUP BY slot_no
)
SELECT
    own_spell.unit_id, own_spell.stick, own_spell.family, own_spell.site, own_spell.usage_class,
    own_spell.sensor_type, own_spell.kind_days, own_spell.kind_h, CAST(before.fault_count AS BIGINT) AS faults_before,
    CAST(own_spell.began_on AS VARCHAR) AS since_on, paced.hours_per_day,
    own_spell.entry_days - own_spell.entered_on AS age_days,
    CASE
        WHEN own_spell.has_hours THEN own_spell.at_h - paced.hours_per_day * least(paced.last_read_on, 0)
        WHEN own_spell.kind_h NOT IN ('first_life', 'since_first_seen')
            THEN paced.hours_per_day * (own_spell.entry_days - own_spell.entered_on)
    END AS age_h
FROM own_spell
LEFT JOIN paced ON paced.unit_no = own_spell.unit_no
LEFT JOIN before ON before.slot_no = own_spell.slot_no
WHERE own_spell.place_from_last = 1 AND own_spell.ended_by = 'open' AND own_spell.ended_on >= -0.5
ORDER BY own_spell.unit_id, own_spell.stick;
