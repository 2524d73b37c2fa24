-- Grain: one row per family, whether a fault was put right by a new part or otherwise, with the number of faults.
SELECT family, is_put_right_by_part, CAST(count(*) AS BIGINT) AS fault_count
FROM own_spell
WHERE is_put_right_by_part IS NOT NULL
GROUP BY family, is_put_right_by_part
ORDER BY family, is_put_right_by_part;
