-- Grain: one row per spell, with what is known of its unit and module. Questions read it, so that one may put fewer in its place.
CREATE OR REPLACE VIEW described_spell AS SELECT * FROM spell;
