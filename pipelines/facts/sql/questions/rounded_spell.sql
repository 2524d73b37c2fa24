-- Grain: one row per asked spell with length, its times rounded to whole steps (0: as they are), so that a million spells
-- come back as a few thousand counts. A spell keeps a length of at least one step.
CREATE OR REPLACE TEMP VIEW rounded_spell AS
SELECT
    * EXCLUDE (entry, lower, upper, at_time, has_length, has_day_length, is_registered, is_assumed, step),
    CASE WHEN step > 0 THEN floor(entry / step) * step ELSE entry END AS entry,
    CASE
        WHEN NOT is_failure AND step > 0 THEN greatest(round(at_time / step), floor(entry / step) + 1) * step
        WHEN NOT is_failure THEN at_time
        WHEN step > 0 THEN greatest(round(lower / step), floor(entry / step)) * step
        ELSE lower
    END AS lower,
    CASE
        WHEN NOT is_failure THEN CAST('infinity' AS DOUBLE)
        WHEN step > 0 THEN greatest(round(upper / step), floor(entry / step) + 1) * step
        ELSE upper
    END AS upper,
    CASE WHEN step > 0 THEN greatest(round(at_time / step), floor(entry / step) + 1) * step ELSE at_time END AS at_time
FROM (SELECT *, CAST(getvariable('asked_grid') AS DOUBLE) AS step FROM asked_spell)
WHERE has_length;
