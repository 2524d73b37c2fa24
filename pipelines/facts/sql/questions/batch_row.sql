-- Grain: one row per spell of batch_spell with length: numbers of its stratum and batch, and the age steps in which it ended and, where
-- watching began late, began. $steps holds the step of each part of age as wide as $width.
CREATE OR REPLACE TEMP TABLE batch_row AS
SELECT
    stratum.stratum_no, code.batch_no, spell.unit, spell.is_failure, spell.is_open, spell.entry, spell.at_time, spell.at_days,
    CAST($steps[1 + CAST(greatest(ceil(spell.at_time / $width) - 1, 0) AS INTEGER)] AS SMALLINT) AS at_step,
    CAST($steps[1 + CAST(floor(spell.entry / $width) AS INTEGER)] AS SMALLINT) AS entry_step
FROM batch_spell AS spell
JOIN batch_code AS code ON code.batch = spell.batch
JOIN batch_stratum AS stratum
    ON stratum.family IS NOT DISTINCT FROM spell.family AND stratum.usage_class IS NOT DISTINCT FROM spell.usage_class
    AND stratum.site IS NOT DISTINCT FROM spell.site AND stratum.fitting_period = spell.fitting_period
WHERE spell.has_length;
