-- Grain: one row per stick of the units asked for: its family and sensor, and the cleans of the module that is in it now.
-- failed_tries: those of them since one passed.
WITH asked AS (
    SELECT slot.slot_no, slot.unit_id, slot.stick, slot.family, slot.sensor_type
    FROM slot WHERE slot.unit_id IN (SELECT unnest(CAST($units AS VARCHAR[])))
), fitted AS (
    SELECT module.slot_no, max(module.module_no) AS module_no, max_by(module.sensor_type, module.module_no) AS sensor_type
    FROM module JOIN asked ON asked.slot_no = module.slot_no
    GROUP BY module.slot_no
), tried AS (
    SELECT
        attempt.slot_no, max(attempt.attempt_number) AS clean_count,
        coalesce(max(CASE WHEN attempt.is_passed THEN attempt.attempt_number END), 0) AS last_passed
    FROM attempt
    JOIN fitted ON fitted.slot_no = attempt.slot_no AND fitted.module_no = attempt.module_no
    GROUP BY attempt.slot_no
)
SELECT
    asked.unit_id, asked.stick, asked.family, coalesce(fitted.sensor_type, asked.sensor_type) AS sensor_type,
    CAST(coalesce(tried.clean_count, 0) AS INTEGER) AS clean_count,
    CAST(coalesce(tried.clean_count - tried.last_passed, 0) AS INTEGER) AS failed_tries
FROM asked
LEFT JOIN fitted ON fitted.slot_no = asked.slot_no
LEFT JOIN tried ON tried.slot_no = asked.slot_no
ORDER BY asked.unit_id, asked.stick;
