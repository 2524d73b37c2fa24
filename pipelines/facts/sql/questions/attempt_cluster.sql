-- Grain: one row per group and kind of controller: how many controllers had so many attempts, of which so many passed. A
-- tag used again after a scrap is another controller; where the stick is not known, it counts as the first one of its tag.
WITH controller AS (
    SELECT
        family, usage_class, site, stick, sensor_type, batch, depth, mechanism, attempt_number,
        unit_id, coalesce(life, 0) AS life_no,
        count(*) AS attempt_count, count(*) FILTER (WHERE is_passed) AS passed_count
    FROM asked_attempt
    GROUP BY ALL
)
SELECT
    family, usage_class, site, stick, sensor_type, batch, depth, mechanism, attempt_number,
    CAST(attempt_count AS BIGINT) AS attempt_count, CAST(passed_count AS BIGINT) AS passed_count,
    CAST(count(*) AS BIGINT) AS controller_count
FROM controller
GROUP BY ALL
-- (sums of fractions hang on the order in their last digit)
ORDER BY ALL;
