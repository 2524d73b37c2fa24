-- Grain: one row per thing that happened to a slot, in order: registration, job, sale, return, withdrawal, scrap of the
-- unit; with the state of the stick before it and what it opens and closes.
-- The stream is sorted once; every running value is a window over its rows in that order, begun anew at each slot, so
-- DuckDB streams them. (An engine without such an order would say PARTITION BY slot_no ORDER BY event_no.)
CREATE OR REPLACE TEMP TABLE walk AS
WITH start_seen AS (
    -- without a register, a job may tell when a new module went into service
    SELECT slot_no, min(unit_no) AS unit_no, min(in_service_since_day) AS start_day
    FROM visit
    WHERE life_known_from = 'new' AND in_service_since_day IS NOT NULL AND slot_no IS NOT NULL
        AND NOT EXISTS (SELECT 1 FROM unit)
    GROUP BY slot_no
), scrapping AS (
    SELECT DISTINCT unit_no, visit_day FROM visit WHERE is_scrapped AND slot_no IS NOT NULL
), stream AS (
    -- `rank` orders what happened on one day
    SELECT slot_no, unit_no, in_service_day AS event_day, 0 AS rank, 'registration' AS kind,
        coalesce(new_or_used = 'new', false) AS is_new
    FROM slot WHERE is_registered
    UNION ALL BY NAME
    SELECT slot_no, unit_no, start_day AS event_day, 0 AS rank, 'registration' AS kind, true AS is_new FROM start_seen
    UNION ALL BY NAME
    SELECT slot_no, unit_no, returned_day AS event_day, 1 AS rank, 'return' AS kind,
        is_confirmed OR is_unconfirmed AS is_return_failure
    FROM sale_follow WHERE returned_day IS NOT NULL
    UNION ALL BY NAME
    SELECT
        slot_no, unit_no, visit_day AS event_day, 2 AS rank, 'job' AS kind, visit_no, closed_day, job_key, back_day,
        is_nff, is_passed, is_repair, is_good_sight, is_bad, is_assumed, is_intake, is_reported, is_scrapped,
        is_replacing, is_leaving, is_stock, is_served, tested IS NULL AS is_untested, clean_count,
        is_last_clean_passed, warranty_days
    FROM visit WHERE slot_no IS NOT NULL
    UNION ALL BY NAME
    SELECT slot_no, unit_no, sold_day AS event_day, 3 AS rank, 'sale' AS kind, follow_day FROM sale_follow
    UNION ALL BY NAME
    SELECT slot_no, unit_no, out_day AS event_day, 4 AS rank, 'out' AS kind FROM slot WHERE out_day IS NOT NULL
    UNION ALL BY NAME
    SELECT slot.slot_no, slot.unit_no, scrapping.visit_day AS event_day, 5 AS rank, 'unit_scrap' AS kind
    FROM scrapping JOIN slot ON slot.unit_no = scrapping.unit_no
), ordered AS (
    SELECT * EXCLUDE (rank, job_key, closed_day)
    FROM stream
    ORDER BY slot_no, event_day, rank, closed_day NULLS FIRST, length(job_key), job_key
), begun AS (
    SELECT
        *,
        row_number() OVER () AS event_no,
        coalesce(slot_no <> lag(slot_no) OVER (), true) AS is_slot_start,
        coalesce(lag(kind) OVER () = 'unit_scrap', false) AS is_after_scrap,
        coalesce(lag(is_replacing) OVER (), false) AS is_after_fitting,
        CASE
            WHEN kind = 'registration' AND is_new THEN false
            WHEN kind = 'unit_scrap' THEN false
            WHEN kind = 'return' AND is_return_failure THEN true
            WHEN kind <> 'job' THEN NULL
            WHEN is_replacing OR is_scrapped THEN false
            WHEN is_good_sight OR (is_passed AND is_repair) THEN false
            WHEN is_bad OR is_assumed THEN true
        END AS is_failed_after
    FROM ordered
), running AS (
    SELECT
        *,
        last_value(
            CASE WHEN is_failed_after IS NOT NULL THEN is_failed_after WHEN is_slot_start THEN false END IGNORE NULLS
        ) OVER so_far AS state,
        last_value(
            CASE WHEN is_good_sight THEN event_day WHEN is_slot_start THEN -1000000 END IGNORE NULLS
        ) OVER so_far AS good_sight,
        CAST(sum(CASE WHEN is_slot_start OR is_after_scrap THEN 1 ELSE 0 END) OVER so_far AS BIGINT) AS lives,
        CAST(sum(CASE WHEN is_slot_start OR is_after_scrap OR is_after_fitting THEN 1 ELSE 0 END) OVER so_far AS BIGINT)
            AS modules
    FROM begun
    WINDOW so_far AS (ROWS UNBOUNDED PRECEDING)
), stated AS (
    SELECT
        *,
        NOT is_slot_start AND lag(state) OVER () AS is_failed_before,
        CASE WHEN NOT is_slot_start THEN nullif(lag(good_sight) OVER (), -1000000) END AS good_sight_day,
        CAST(lives - last_value(CASE WHEN is_slot_start THEN lives END IGNORE NULLS) OVER so_far AS INTEGER) AS life,
        CAST(modules - last_value(CASE WHEN is_slot_start THEN modules END IGNORE NULLS) OVER so_far AS INTEGER)
            AS module_no,
        CAST(modules - last_value(
            CASE WHEN is_slot_start OR is_after_scrap THEN modules END IGNORE NULLS
        ) OVER so_far AS INTEGER) + 1 AS generation
    FROM running
    WINDOW so_far AS (ROWS UNBOUNDED PRECEDING)
), judged AS (
    SELECT
        *,
        CASE
            WHEN kind = 'job' THEN (is_bad OR is_assumed) AND NOT is_intake AND NOT is_failed_before
            ELSE coalesce(is_return_failure, false) AND NOT is_failed_before
        END AS is_failure,
        coalesce(clean_count > 0 AND (is_bad OR is_assumed OR (is_failed_before AND NOT is_nff)), false) AS is_attempt
    FROM stated
), opened AS (
    SELECT
        judged.*,
        CASE WHEN is_attempt THEN clean_count - (is_last_clean_passed IS NULL)::INTEGER ELSE 0 END AS attempt_count,
        coalesce(clean_count > 0 AND NOT is_attempt, false) AND setting.preventive_clean_censors AS is_preventive_clean,
        CASE
            WHEN kind = 'registration' AND is_new THEN 'first_life'
            WHEN kind <> 'job' OR is_scrapped OR is_leaving THEN NULL
            WHEN is_replacing THEN 'first_life'
            WHEN is_attempt AND is_last_clean_passed THEN 'after_clean'
            WHEN clean_count > 0 AND NOT is_attempt AND setting.preventive_clean_censors THEN 'after_preventive'
            WHEN (is_failed_before OR is_bad OR is_assumed) AND NOT is_failed_after THEN 'after_other_repair'
        END AS opens_for_certain,
        coalesce(is_good_sight AND generation = 1 AND NOT is_leaving AND NOT is_scrapped, false) AS is_first_sight_maybe
    FROM judged CROSS JOIN history_setting AS setting
), counted AS (
    SELECT
        *,
        CAST(sum(attempt_count) OVER so_far AS BIGINT) - attempt_count AS attempts_until,
        CAST(sum((opens_for_certain IS NOT NULL OR is_first_sight_maybe)::INTEGER) OVER so_far AS BIGINT)
            - (opens_for_certain IS NOT NULL OR is_first_sight_maybe)::INTEGER AS openings_until
    FROM opened
    WINDOW so_far AS (ROWS UNBOUNDED PRECEDING)
), based AS (
    SELECT
        *,
        last_value(
            CASE WHEN is_slot_start OR is_after_scrap OR is_after_fitting THEN attempts_until END IGNORE NULLS
        ) OVER so_far AS attempts_at_module_start,
        last_value(
            CASE WHEN is_slot_start OR is_after_scrap THEN openings_until END IGNORE NULLS
        ) OVER so_far AS openings_at_life_start
    FROM counted
    WINDOW so_far AS (ROWS UNBOUNDED PRECEDING)
)
SELECT
    event_no, slot_no, unit_no, event_day, kind, visit_no, life, generation, module_no, follow_day,
    is_failure, is_failed_before, is_failed_after, is_attempt, is_last_clean_passed, attempt_count, clean_count,
    is_preventive_clean, is_untested AND is_intake AND clean_count > 0 AND NOT is_attempt AS is_intake_untested,
    is_intake AND is_bad AND NOT is_failed_before AS is_found_bad_at_intake,
    is_failure AND openings_until = openings_at_life_start AS is_first_sight_failure,
    good_sight_day, coalesce(is_reported, false) AS is_reported, is_failure AND coalesce(is_assumed, false) AS is_assumed,
    is_bad OR is_assumed AS is_found_failed, is_stock, is_served, warranty_days, back_day,
    coalesce(is_replacing, false) AS is_replacing, coalesce(is_scrapped, false) AS is_scrapped,
    coalesce(is_leaving, false) AS is_leaving,
    CAST(attempts_until - attempts_at_module_start AS INTEGER) AS attempts_before,
    CASE
        WHEN opens_for_certain IS NOT NULL THEN opens_for_certain
        WHEN is_first_sight_maybe AND openings_until = openings_at_life_start THEN 'first_life'
    END AS opens,
    opens_for_certain IS NULL AS is_first_sight,
    is_failure OR is_preventive_clean OR kind IN ('sale', 'return', 'out', 'unit_scrap')
        OR coalesce(is_replacing OR is_scrapped OR is_leaving, false) AS is_closing
FROM based;
