-- Grain: one row per asked spell with length, its times rounded to whole steps of $grid (0: as they are), so that a
-- million spells come back as a few thousand counts. A spell keeps a length of at least one step.
CREATE OR REPLACE TEMP TABLE rounded_spell AS
SELECT
    * EXCLUDE (entry, lower, upper, at_time, has_length, has_day_length, is_registered, is_assumed),
    CASE WHEN $grid > 0 THEN floor(entry / $grid) * $grid ELSE entry END AS entry,
    CASE
        WHEN NOT is_failure AND $grid > 0 THEN greatest(round(at_time / $grid), floor(entry / $grid) + 1) * $grid
        WHEN NOT is_failure THEN at_time
        WHEN $grid > 0 THEN greatest(round(lower / $grid), floor(entry / $grid)) * $grid
        ELSE lower
    END AS lower,
    CASE
        WHEN NOT is_failure THEN CAST('infinity' AS DOUBLE)
        WHEN $grid > 0 THEN greatest(round(upper / $grid), floor(entry / $grid) + 1) * $grid
        ELSE upper
    END AS upper,
    CASE WHEN $grid > 0 THEN greatest(round(at_time / $grid), floor(entry / $grid) + 1) * $grid ELSE at_time END AS at_time
FROM asked_spell
WHERE has_length;
