-- Grain: one row per cleaning attempt, with what is known of its job, unit and module.
-- The job is found by its key: row numbers taken inside a load's transaction are others once it is done.
CREATE OR REPLACE VIEW described_attempt AS
SELECT
    attempt.*, job.unit_id, coalesce(slot.stick, job.stick) AS stick,
    coalesce(slot.family, job.family) AS family, slot.usage_class, coalesce(job.site_id, slot.site) AS site,
    coalesce(module.sensor_type, nullif(job.sensor_type, 'unknown')) AS sensor_type, module.batch,
    coalesce(job.visit_reason, 'unknown') AS reason, job.technician
FROM attempt
JOIN job ON job.job_key = attempt.job_key
LEFT JOIN slot ON slot.slot_no = attempt.slot_no
LEFT JOIN module ON module.slot_no = attempt.slot_no AND module.module_no = attempt.module_no;
