-- Grain: one row per group, cluster and distinct (entry, lower, upper, time, end) of the rounded spells, with their
-- number. A cluster is a controller (a tag used again after a scrap is another one) or the home site of it.
WITH site_number AS (
    SELECT site, row_number() OVER (ORDER BY site) AS site_no FROM (SELECT DISTINCT site FROM slot WHERE site IS NOT NULL)
)
SELECT
    rounded_spell.family, rounded_spell.usage_class, rounded_spell.site, rounded_spell.stick, rounded_spell.sensor_type,
    rounded_spell.batch, rounded_spell.depth, rounded_spell.mechanism, rounded_spell.attempt_number,
    rounded_spell.is_age_known,
    CASE $cluster
        WHEN 'site' THEN site_number.site_no
        ELSE CAST(slot.unit_no AS BIGINT) * 1000 + rounded_spell.life
    END AS cluster,
    rounded_spell.entry, rounded_spell.lower, rounded_spell.upper, rounded_spell.at_time, rounded_spell.is_failure,
    CAST(count(*) AS BIGINT) AS spell_count
FROM rounded_spell
JOIN slot ON slot.slot_no = rounded_spell.slot_no
LEFT JOIN site_number ON site_number.site = slot.site
GROUP BY ALL;
