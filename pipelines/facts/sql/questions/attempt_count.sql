-- Grain: one row per group and distinct (result, follow-up, end) of the asked attempts, with their number.
-- Follow-up of 0 means: failed its as-left test, or passed and was not watched further on this clock.
WITH followed AS (
    SELECT
        *,
        CASE WHEN $is_hours THEN coalesce(held_h, 0) ELSE coalesce(held_days, 0) END AS held
    FROM asked_attempt
)
SELECT
    family, usage_class, site, stick, sensor_type, batch, depth, mechanism, attempt_number,
    coalesce(is_worn_track, false) AS is_worn_track, is_passed,
    CASE WHEN $grid > 0 AND held > 0 THEN greatest(round(held / $grid), 1) * $grid ELSE greatest(held, 0) END AS at_time,
    has_failed_again AND held > 0 AS is_failure,
    held > 0 AS is_followed,
    has_failed_again,
    coalesce(held_days > 0, false) AS is_watched,
    coalesce(held_days > 0 AND NOT has_usable_hours, false) AS is_without_hours,
    CAST(count(*) AS BIGINT) AS attempt_count
FROM followed
GROUP BY ALL;
