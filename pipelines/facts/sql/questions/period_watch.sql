-- Grain: one row per row of period_stretch, with its days, and the play hours of the controller at both ends of its metered
-- part (NULL: no metered part). Hours are read, or lie on the line between two readings.
WITH used AS (
    SELECT
        unit_no, CAST(day AS DOUBLE) AS day, hours,
        lead(day) OVER by_day AS next_day, lead(hours) OVER by_day AS next_hours
    FROM reading WHERE doubt IS NULL
    WINDOW by_day AS (PARTITION BY unit_no ORDER BY day)
), known AS (
    SELECT unit_no, any_value(unit_id) AS unit_id, any_value(site) AS site, any_value(family) AS family
    FROM own_spell GROUP BY unit_no
), begun AS (
    SELECT
        stretch.*,
        used.hours + coalesce((used.next_hours - used.hours) * (stretch.metered_from - used.day) / (used.next_day - used.day), 0)
            AS from_h
    FROM period_stretch AS stretch
    ASOF LEFT JOIN used ON used.unit_no = stretch.unit_no AND used.day <= stretch.metered_from
)
SELECT
    begun.unit_no, known.unit_id, known.site, known.family, CAST(begun.period_no AS BIGINT) AS period_no,
    begun.from_day, begun.to_day, begun.metered_to - begun.metered_from AS metered_days, begun.from_h,
    used.hours + coalesce((used.next_hours - used.hours) * (begun.metered_to - used.day) / (used.next_day - used.day), 0) AS to_h
FROM begun
JOIN known ON known.unit_no = begun.unit_no
ASOF LEFT JOIN used ON used.unit_no = begun.unit_no AND used.day <= begun.metered_to
ORDER BY begun.unit_no, begun.from_day;
