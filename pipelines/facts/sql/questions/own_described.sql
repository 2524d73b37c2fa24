-- Grain: one row per spell of own controllers, with what is known of its unit and module. Named as the view of all spells, so
-- that a question asked on this connection is of own ones.
CREATE OR REPLACE TEMP TABLE described_spell AS
SELECT described_spell.*
FROM described_spell JOIN own_slot ON own_slot.slot_no = described_spell.slot_no;
