-- Grain: one row per spell with length of the batch $batch and, in its own cells (family, usage class, site), of the rest: the batch
-- $reference, or where that is null all whose bins were not mixed. A side of over $most spells is that of whole controllers drawn
-- by their number, always the same ones; of the rest those with a module of the batch stay. rest_count: of the rest before that.
WITH spell AS (
    SELECT *, batch = $batch AS is_batch FROM batch_spell
    WHERE has_length AND is_age_known AND (batch = $batch OR CASE WHEN $reference IS NULL THEN NOT is_mixed ELSE batch = $reference END)
), cell AS (
    SELECT *, CAST(row_number() OVER (ORDER BY family, usage_class, site) AS BIGINT) AS cell
    FROM (SELECT DISTINCT family, usage_class, site FROM spell WHERE is_batch)
), beside AS (
    SELECT spell.*, cell.cell, (spell.unit % 2147483647) * 48271 % 2147483647 / 2147483647.0 AS draw
    FROM spell
    JOIN cell ON cell.family IS NOT DISTINCT FROM spell.family AND cell.usage_class IS NOT DISTINCT FROM spell.usage_class
        AND cell.site IS NOT DISTINCT FROM spell.site
), size AS (
    SELECT
        CAST(count(*) FILTER (WHERE is_batch) AS BIGINT) AS batch_count, CAST(count(*) FILTER (WHERE NOT is_batch) AS BIGINT) AS rest_count
    FROM beside
)
SELECT
    is_batch, cell, unit AS cluster, family, usage_class, site, entry, lower,
    CASE WHEN is_failure THEN upper ELSE CAST('infinity' AS DOUBLE) END AS upper, at_time AS at, is_failure,
    CASE WHEN is_failure THEN nullif(failed_by, 'unknown') END AS failed_by, CAST(1 AS BIGINT) AS spell_count, rest_count
FROM beside CROSS JOIN size
WHERE draw * CASE WHEN is_batch THEN batch_count ELSE rest_count END < $most
    OR (NOT is_batch AND unit IN (SELECT unit FROM beside WHERE is_batch))
ORDER BY is_batch, cell, entry, at_time, cluster;
