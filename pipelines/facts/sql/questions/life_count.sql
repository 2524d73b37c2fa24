-- Grain: one row per group and distinct (entry, lower, upper, time, end) of the asked spells, with their number.
-- $grid > 0 rounds times to whole steps, so that a million spells come back as a few thousand counts.
WITH timed AS (
    SELECT
        * EXCLUDE (entry, lower, upper, at_time),
        CASE WHEN $grid > 0 THEN floor(entry / $grid) * $grid ELSE entry END AS entry,
        CASE WHEN $grid > 0 THEN greatest(round(lower / $grid), floor(entry / $grid)) * $grid ELSE lower END AS lower,
        CASE WHEN $grid > 0 THEN greatest(round(upper / $grid), floor(entry / $grid) + 1) * $grid ELSE upper END AS upper,
        CASE WHEN $grid > 0 THEN greatest(round(at_time / $grid), floor(entry / $grid) + 1) * $grid ELSE at_time END
            AS at_time
    FROM asked_spell
    WHERE has_length
)
SELECT
    family, usage_class, site, stick, sensor_type, batch, depth, mechanism, attempt_number,
    is_age_known, entry,
    CASE WHEN is_failure THEN lower ELSE at_time END AS lower,
    CASE WHEN is_failure THEN upper ELSE CAST('infinity' AS DOUBLE) END AS upper,
    at_time, is_failure, CAST(count(*) AS BIGINT) AS spell_count
FROM timed
GROUP BY ALL;
