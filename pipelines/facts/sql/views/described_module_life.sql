-- Grain: one row per module whose life was watched, with what is known of its unit and module.
CREATE OR REPLACE VIEW described_module_life AS
SELECT
    module_life.*, slot.unit_id, slot.family, slot.usage_class, slot.site, slot.stick, module.sensor_type, module.batch
FROM module_life
JOIN slot ON slot.slot_no = module_life.slot_no
JOIN module ON module.slot_no = module_life.slot_no AND module.module_no = module_life.module_no;
