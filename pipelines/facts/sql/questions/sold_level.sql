-- Grain: one row per column that spells are compared by and value of it: how many spells of the asked kind there are, and
-- how many of them began with a buyer.
WITH known AS (
    SELECT
        CAST(family AS VARCHAR) AS family, CAST(usage_class AS VARCHAR) AS usage_class, CAST(site AS VARCHAR) AS site,
        CAST(stick AS VARCHAR) AS stick, CAST(sensor_type AS VARCHAR) AS sensor_type, CAST(batch AS VARCHAR) AS batch,
        CAST(depth AS VARCHAR) AS depth, CAST(mechanism AS VARCHAR) AS mechanism,
        CAST(attempt_number AS VARCHAR) AS attempt_number,
        count(*) AS spells, count(*) FILTER (WHERE began_on >= sold.first_on) AS sold
    FROM described_spell
    JOIN (SELECT slot_no, unit_id FROM slot) AS tag ON tag.slot_no = described_spell.slot_no
    LEFT JOIN (SELECT unit_id, min(sold_on) AS first_on FROM sale GROUP BY unit_id) AS sold
        ON sold.unit_id = tag.unit_id
    WHERE kind = $kind
    GROUP BY ALL
)
SELECT grouping, value, CAST(sum(spells) AS BIGINT) AS spell_count, CAST(sum(sold) AS BIGINT) AS sold_count
FROM known UNPIVOT INCLUDE NULLS (
    value FOR grouping IN (family, usage_class, site, stick, sensor_type, batch, depth, mechanism, attempt_number)
)
GROUP BY grouping, value;
