-- Grain: one row per kind and key of a price: the amount valid on a day, of the latest row that begins by it.
-- is_known: the key, or each of its parts between slashes, is a family, grade, site, action or part type of the log.
WITH valid AS (
    SELECT kind, key, max_by(amount, valid_from) AS amount, max(valid_from) AS valid_from
    FROM price
    WHERE valid_from <= CAST($on AS DATE)
    GROUP BY kind, key
), known AS (
    SELECT family AS name FROM slot UNION SELECT family FROM lot
    UNION SELECT site FROM slot
    UNION SELECT part_type FROM part_batch
    UNION SELECT unnest(CAST($words AS VARCHAR[]))
), part AS (
    SELECT DISTINCT key, unnest(string_split(key, '/')) AS name FROM valid
), judged AS (
    SELECT part.key, bool_and(known.name IS NOT NULL) AS is_known
    FROM part LEFT JOIN (SELECT DISTINCT lower(trim(name)) AS name FROM known WHERE name IS NOT NULL) AS known
        ON known.name = lower(trim(part.name))
    GROUP BY part.key
)
SELECT valid.kind, valid.key, valid.amount, valid.valid_from, judged.is_known
FROM valid JOIN judged ON judged.key = valid.key
ORDER BY valid.kind, valid.key;
