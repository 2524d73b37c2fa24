-- Grain: one row per cleaning attempt, with what is known of its unit and module.
CREATE OR REPLACE VIEW described_attempt AS
SELECT
    attempt.* EXCLUDE (unit_id, site, family, sensor_type),
    coalesce(slot.unit_id, attempt.unit_id) AS unit_id, coalesce(slot.stick, 'U') AS stick, coalesce(slot.family, attempt.family) AS family, slot.usage_class,
    coalesce(attempt.site, slot.site) AS site, coalesce(module.sensor_type, attempt.sensor_type) AS sensor_type,
    module.batch
FROM attempt
LEFT JOIN slot ON slot.slot_no = attempt.slot_no
LEFT JOIN module ON module.slot_no = attempt.slot_no AND module.module_no = attempt.module_no;
