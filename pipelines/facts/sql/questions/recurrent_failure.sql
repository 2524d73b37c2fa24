-- Grain: one row per failure of the recurrent spells: its unit, the age, what was found, and what ended the episode.
WITH followed AS (
    SELECT
        spell_no,
        CASE WHEN lead(slot_no) OVER () = slot_no AND lead(module_no) OVER () = module_no THEN lead(kind) OVER () END
            AS next_kind
    FROM (SELECT spell_no, slot_no, module_no, kind FROM spell ORDER BY spell_no)
), cleaned AS (
    SELECT slot_no, module_no, max(received_on) AS last_cleaned_on
    FROM attempt WHERE is_passed AND slot_no IS NOT NULL GROUP BY slot_no, module_no
)
SELECT
    failed.family, failed.usage_class, failed.site, failed.stick, failed.sensor_type, failed.batch,
    failed.unit, failed.is_age_known, failed.at_time, coalesce(failed.failed_by, 'not_recorded') AS failed_by,
    CASE
        WHEN followed.next_kind = 'after_clean' THEN 'clean'
        WHEN followed.next_kind IS NOT NULL THEN 'other_repair'
        -- cleaned, and never in service since
        WHEN cleaned.last_cleaned_on
            >= greatest(spell.began_on, setting.log_start) + CAST(spell.upper_days - spell.entry_days AS INTEGER) THEN 'clean'
        WHEN module.is_fitted_here THEN 'replacement'
    END AS ended_by
FROM recurrent_spell AS failed
JOIN spell ON spell.spell_no = failed.spell_no
JOIN followed ON followed.spell_no = failed.spell_no
LEFT JOIN cleaned ON cleaned.slot_no = failed.slot_no AND cleaned.module_no = failed.module_no
LEFT JOIN module ON module.slot_no = failed.slot_no AND module.module_no = failed.module_no + 1
CROSS JOIN history_setting AS setting
WHERE failed.is_failure;
