-- Grain: one row per batch and distinct (entry, lower, upper, time, end, mechanism) of its spells with length, with their number.
-- Times are rounded to whole steps of $grid (0: as they are); a spell keeps a length of at least one step.
SELECT
    batch, CASE WHEN $grid > 0 THEN floor(entry / $grid) * $grid ELSE entry END AS entry,
    CASE
        WHEN $grid <= 0 THEN CASE WHEN is_failure THEN lower ELSE at_time END
        WHEN is_failure THEN greatest(round(lower / $grid), floor(entry / $grid)) * $grid
        ELSE greatest(round(at_time / $grid), floor(entry / $grid) + 1) * $grid
    END AS lower,
    CASE
        WHEN NOT is_failure THEN CAST('infinity' AS DOUBLE)
        WHEN $grid > 0 THEN greatest(round(upper / $grid), floor(entry / $grid) + 1) * $grid
        ELSE upper
    END AS upper,
    CASE WHEN $grid > 0 THEN greatest(round(at_time / $grid), floor(entry / $grid) + 1) * $grid ELSE at_time END AS at_time,
    is_failure, CASE WHEN is_failure THEN coalesce(failed_by, 'not_recorded') END AS failed_by,
    CAST(count(*) AS BIGINT) AS spell_count
FROM batch_spell
WHERE has_length
GROUP BY ALL
ORDER BY ALL;
