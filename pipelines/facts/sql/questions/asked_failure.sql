-- Grain: one row per episode that a question asks for: the visit at which a stick, good before, was found failed (also at
-- intake), with its severity; filtered, with the columns it is not split by blanked. Sticks not known are not followed.
-- Severity is the largest as-found departure from a perfect stick, % of half-scale: rest offset, jitter, return spread or
-- lacking reach, whichever were read; NULL where none was.
CREATE OR REPLACE TEMP TABLE asked_failure AS
WITH seen AS (
    SELECT
        slot_no, visit_day, 0 AS rank, visit_no, closed_day, job_key, is_bad OR is_assumed AS is_found_failed,
        is_replacing AS is_module_end,
        CASE
            WHEN is_replacing OR is_good_sight OR (is_passed AND is_repair) THEN false
            WHEN is_bad OR is_assumed THEN true
        END AS is_failed_after
    FROM visit WHERE slot_no IS NOT NULL
    UNION ALL
    -- a scrap ends the life of every stick of its unit
    SELECT slot.slot_no, scrapping.visit_day, 1, NULL, NULL, NULL, false, true, false
    FROM (SELECT DISTINCT unit_no, visit_day FROM visit WHERE is_scrapped AND unit_no IS NOT NULL) AS scrapping
    JOIN slot ON slot.unit_no = scrapping.unit_no
), ordered AS (
    SELECT slot_no, visit_no, is_found_failed, is_module_end, is_failed_after
    FROM seen
    ORDER BY slot_no, visit_day, rank, closed_day, length(job_key), job_key
), begun AS (
    SELECT *, coalesce(slot_no <> lag(slot_no) OVER (), true) AS is_slot_start FROM ordered
), running AS (
    SELECT
        *,
        last_value(
            CASE WHEN is_failed_after IS NOT NULL THEN is_failed_after WHEN is_slot_start THEN false END IGNORE NULLS
        ) OVER so_far AS state,
        CAST(sum(is_module_end::INTEGER) OVER so_far AS BIGINT) - is_module_end::INTEGER AS modules_until
    FROM begun
    WINDOW so_far AS (ROWS UNBOUNDED PRECEDING)
), stated AS (
    SELECT
        slot_no, visit_no, is_found_failed,
        NOT is_slot_start AND lag(state) OVER () AS is_failed_before,
        modules_until - last_value(CASE WHEN is_slot_start THEN modules_until END IGNORE NULLS) OVER (
            ROWS UNBOUNDED PRECEDING
        ) AS module_no
    FROM running
), described AS (
    SELECT
        slot.family, slot.usage_class, coalesce(job.site_id, slot.site) AS site, slot.stick,
        coalesce(module.sensor_type, nullif(job.sensor_type, 'unknown')) AS sensor_type, module.batch, visit.mechanism,
        date_from_unix_date(visit.visit_day) AS received_on,
        greatest(job.af_rest_offset_pct, job.af_jitter_pct, job.af_return_spread_pct, 100 - job.af_reach_pct) AS severity_pct,
        visit.clean_count > 0 AS is_tried,
        -- the first of several cleans failed; of a last one the result may not be known
        CASE WHEN visit.clean_count > 1 THEN false WHEN visit.clean_count = 1 THEN visit.is_last_clean_passed END AS is_passed
    FROM stated
    JOIN visit ON visit.visit_no = stated.visit_no
    JOIN job ON job.rowid = visit.visit_no
    JOIN slot ON slot.slot_no = stated.slot_no
    LEFT JOIN module ON module.slot_no = stated.slot_no AND module.module_no = stated.module_no
    WHERE stated.is_found_failed AND NOT stated.is_failed_before
)
SELECT
    CASE WHEN list_contains($by, 'family') THEN family END AS family,
    CASE WHEN list_contains($by, 'usage_class') THEN usage_class END AS usage_class,
    CASE WHEN list_contains($by, 'site') THEN site END AS site,
    CASE WHEN list_contains($by, 'stick') THEN stick END AS stick,
    CASE WHEN list_contains($by, 'sensor_type') THEN sensor_type END AS sensor_type,
    CASE WHEN list_contains($by, 'batch') THEN batch END AS batch,
    CASE WHEN list_contains($by, 'mechanism') THEN mechanism END AS mechanism,
    mechanism AS mechanism_found, severity_pct, is_tried, is_passed
FROM described
WHERE true
    AND ($where_family IS NULL OR list_contains($where_family, family))
    AND ($where_usage_class IS NULL OR list_contains($where_usage_class, usage_class))
    AND ($where_site IS NULL OR list_contains($where_site, site))
    AND ($where_stick IS NULL OR list_contains($where_stick, stick))
    AND ($where_sensor_type IS NULL OR list_contains($where_sensor_type, sensor_type))
    AND ($where_batch IS NULL OR list_contains($where_batch, batch))
    AND ($where_mechanism IS NULL OR list_contains($where_mechanism, mechanism))
    AND ($from_on IS NULL OR received_on >= CAST($from_on AS DATE))
    AND ($to_on IS NULL OR received_on <= CAST($to_on AS DATE));
