-- Grain: one row per kind of name of which some differ only in capitals or spaces: how many names, and an example.
WITH named AS (
    SELECT DISTINCT 'controllers' AS what, unit_id AS name FROM slot
    UNION
    SELECT DISTINCT 'families', family FROM slot WHERE family IS NOT NULL
), folded AS (
    SELECT what, lower(regexp_replace(trim(name), '\s+', ' ', 'g')) AS plain, count(*) AS name_count,
        min(name) AS first_name, max(name) AS last_name
    FROM named
    GROUP BY ALL
    HAVING count(*) > 1
)
SELECT what, CAST(sum(name_count) AS BIGINT) AS name_count, min(first_name) AS first_name, min_by(last_name, first_name)
FROM folded
GROUP BY what
ORDER BY what;
