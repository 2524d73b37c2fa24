-- Grain: one row per spell, with what is known of its unit and module.
CREATE OR REPLACE VIEW described_spell AS
SELECT
    spell.*, slot.unit_id, slot.family, slot.usage_class, slot.site, slot.stick, slot.is_registered,
    module.sensor_type, module.batch, slot.unit_no, module.is_fitted_here, module.batch_fitted, module.fitted_day
FROM spell
JOIN slot ON slot.slot_no = spell.slot_no
JOIN module ON module.slot_no = spell.slot_no AND module.module_no = spell.module_no;
