-- Grain: one row per lot, family, fate and day on which the fate was known (NULL: open): how many units.
SELECT
    lot_id, family, is_listed, seller, stated_condition, bought_on, fate, finished_on, CAST(count(*) AS BIGINT) AS unit_count
FROM lot_unit
GROUP BY ALL
ORDER BY lot_id, family, fate, finished_on;
