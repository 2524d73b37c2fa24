-- Grain: one row per thing that happened to a slot, in order: registration, job, sale, return, withdrawal, scrap of the
-- unit; with the state of the stick before it and what it opens and closes.
-- The stream is sorted once; every running value is a window over its rows in that order, begun anew at each slot, so
-- DuckDB streams them. (An engine without such an order would say PARTITION BY slot_no ORDER BY event_no.)
CREATE OR REPLACE TEMP TABLE walk AS
WITH start_seen AS (
    -- without a register, a job may tell when a new module went into service
    SELECT slot_no, min(new_since_day) AS start_day
    FROM visit
    WHERE new_since_day IS NOT NULL AND slot_no IS NOT NULL AND NOT EXISTS (SELECT 1 FROM unit)
    GROUP BY slot_no
), scrapping AS (
    SELECT DISTINCT unit_no, visit_day FROM visit WHERE is_scrapped AND unit_no IS NOT NULL
), leaving AS (
    -- a unit put away leaves with all its sticks
    SELECT DISTINCT unit_no, visit_day FROM visit WHERE is_leaving AND unit_no IS NOT NULL
), stream AS (
    -- `rank` orders what happened on one day; a scrap comes last of what its jobs did, since the next row is another unit's
    SELECT slot_no, in_service_day AS event_day, 0 AS rank, event_kind('registration') AS kind,
        coalesce(new_or_used = 'new', false) AS is_new
    FROM slot WHERE is_registered
    UNION ALL BY NAME
    SELECT slot_no, start_day AS event_day, 0 AS rank, event_kind('registration') AS kind, true AS is_new FROM start_seen
    UNION ALL BY NAME
    SELECT slot_no, returned_day AS event_day, CASE WHEN returned_day > sold_day THEN 1 ELSE 6 END AS rank,
        event_kind('return') AS kind, visit_no, mechanism,
        is_confirmed OR is_unconfirmed AS is_return_failure, is_removed_at_claim
    FROM sale_follow WHERE returned_day IS NOT NULL
    UNION ALL BY NAME
    SELECT
        slot_no, visit_day AS event_day, 2 AS rank, event_kind('job') AS kind, visit_no, mechanism, last_depth, closed_day, job_key, back_day,
        is_nff, is_passed, is_repair, is_good_sight, is_bad, is_assumed, is_intake, is_reported, is_scrapped,
        is_replacing, is_leaving, is_stock, is_of_lot, is_served, is_start_recorded, is_untested, clean_count,
        is_last_clean_passed, warranty_days
    FROM visit WHERE slot_no IS NOT NULL
    UNION ALL BY NAME
    SELECT slot_no, sold_day AS event_day, 5 AS rank, event_kind('sale') AS kind, follow_day FROM sale_follow
    UNION ALL BY NAME
    SELECT slot_no, out_day AS event_day, 7 AS rank, event_kind('out') AS kind FROM slot WHERE out_day IS NOT NULL
    UNION ALL BY NAME
    SELECT slot.slot_no, leaving.visit_day AS event_day, 3 AS rank, event_kind('out') AS kind
    FROM leaving JOIN slot ON slot.unit_no = leaving.unit_no
    UNION ALL BY NAME
    SELECT slot.slot_no, scrapping.visit_day AS event_day, 4 AS rank, event_kind('unit_scrap') AS kind
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
            WHEN kind = 'unit_scrap' THEN false
            WHEN kind = 'return' AND is_return_failure THEN true
            WHEN kind <> 'job' THEN NULL
            WHEN is_replacing THEN false
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
        -- a unit sold stays its buyer's, followed as that sale says, until it is taken in again
        last_value(CASE
            WHEN kind = 'sale' THEN coalesce(follow_day, event_day)
            WHEN is_intake OR is_slot_start OR is_after_scrap THEN -1000000
        END IGNORE NULLS) OVER so_far AS buyer_follow,
        count(*) FILTER (WHERE is_slot_start OR is_after_scrap) OVER so_far AS lives,
        count(*) FILTER (WHERE is_slot_start OR is_after_scrap OR is_after_fitting) OVER so_far AS modules
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
), mended AS (
    SELECT
        *,
        last_value(CASE
            WHEN kind = 'job' AND NOT (is_scrapped OR is_leaving OR is_replacing) AND (
                (is_attempt AND is_last_clean_passed)
                OR (clean_count = 0 AND (is_failed_before OR is_bad OR is_assumed) AND NOT is_failed_after)
            ) THEN true
            WHEN is_slot_start OR is_after_scrap THEN false
        END IGNORE NULLS) OVER (ROWS UNBOUNDED PRECEDING) AS is_mended
    FROM judged
), opened AS (
    SELECT
        *,
        CASE WHEN is_attempt THEN clean_count - (is_last_clean_passed IS NULL)::INTEGER ELSE 0 END AS attempt_count,
        coalesce(clean_count > 0 AND NOT is_attempt, false) AS is_idle_clean,
        CASE
            -- unless the bench had it before it went into service, and found it bad
            WHEN kind = 'registration' AND is_new AND generation = 1 AND NOT is_failed_before AND NOT is_mended
                THEN spell_kind('first_life')
            WHEN kind <> 'job' OR is_scrapped OR is_leaving THEN NULL
            WHEN is_replacing THEN spell_kind('first_life')
            WHEN is_attempt AND is_last_clean_passed THEN spell_kind('after_clean')
            WHEN clean_count > 0 AND NOT is_attempt THEN NULL
            WHEN (is_failed_before OR is_bad OR is_assumed) AND NOT is_failed_after THEN spell_kind('after_other_repair')
        END AS opens_unless_idle,
        coalesce(
            is_good_sight AND generation = 1 AND NOT is_leaving AND NOT is_scrapped
                AND NOT (is_start_recorded AND life = 0), false
        ) AS is_first_sight_maybe,
        is_failure OR kind IN ('sale', 'return', 'out', 'unit_scrap')
            OR coalesce(is_replacing OR is_scrapped OR (is_intake AND is_bad), false) AS closes_unless_idle
    FROM mended
), passed_by AS (
    SELECT
        *,
        last_value(CASE
            WHEN opens_unless_idle IS NOT NULL THEN opens_unless_idle
            WHEN closes_unless_idle THEN spell_kind('closed')
            WHEN is_slot_start OR is_after_scrap THEN spell_kind('none')
        END IGNORE NULLS) OVER so_far AS kind_now,
        count(*) FILTER (WHERE is_idle_clean) OVER so_far AS idle_cleans
    FROM opened
    WINDOW so_far AS (ROWS UNBOUNDED PRECEDING)
), idled AS (
    SELECT
        *,
        lag(kind_now) OVER () AS kind_behind,
        idle_cleans - last_value(
            CASE WHEN is_slot_start OR is_after_scrap THEN idle_cleans - is_idle_clean::INTEGER END IGNORE NULLS
        ) OVER (ROWS UNBOUNDED PRECEDING) AS idle_cleans_in_life
    FROM passed_by
), sighted AS (
    SELECT
        *,
        last_value(CASE
            WHEN is_first_sight_maybe AND idle_cleans_in_life = 0 THEN true
            WHEN is_slot_start OR is_after_scrap THEN false
        END IGNORE NULLS) OVER (ROWS UNBOUNDED PRECEDING) AS has_sight_now
    FROM idled
), behind AS (
    SELECT * EXCLUDE (kind_now, idle_cleans, idle_cleans_in_life, has_sight_now), lag(has_sight_now) OVER () AS has_sight_behind
    FROM sighted
), chosen AS (
    SELECT
        behind.* EXCLUDE (opens_unless_idle),
        is_idle_clean AND NOT coalesce(runs_on, false) AS is_preventive_clean,
        CASE
            WHEN is_idle_clean AND NOT is_scrapped AND NOT is_leaving AND NOT is_replacing AND NOT coalesce(runs_on, false)
                THEN spell_kind('after_preventive')
            ELSE opens_unless_idle
        END AS opens_for_certain
    FROM (
        SELECT
            behind.*,
            -- a setting: the first life runs on through a preventive clean
            is_idle_clean AND NOT setting.preventive_clean_censors AND NOT is_slot_start AND NOT is_after_scrap
                AND (kind_behind = 'first_life' OR (kind_behind = 'none' AND has_sight_behind)) AS runs_on
        FROM behind CROSS JOIN history_setting AS setting
    ) AS behind
), counted AS (
    SELECT
        *,
        CAST(sum(attempt_count) OVER so_far AS BIGINT) - attempt_count AS attempts_until,
        count(*) FILTER (WHERE opens_for_certain IS NOT NULL OR is_first_sight_maybe) OVER so_far
            - (opens_for_certain IS NOT NULL OR is_first_sight_maybe)::INTEGER AS openings_until
    FROM chosen
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
    event_no, slot_no, event_day, kind, visit_no, mechanism, last_depth, coalesce(is_removed_at_claim, false) AS is_removed_at_claim, life, generation, module_no,
    follow_day, is_failure, is_attempt, is_last_clean_passed, attempt_count,
    is_untested AND is_intake AND clean_count > 0 AND NOT is_attempt AS is_intake_untested,
    is_intake AND is_bad AND NOT is_failed_before AS is_found_bad_at_intake,
    is_failure AND openings_until = openings_at_life_start AS is_first_sight_failure,
    good_sight_day, coalesce(is_reported, false) AS is_reported, is_failure AND coalesce(is_assumed, false) AS is_assumed,
    coalesce(is_stock, false) AS is_stock, coalesce(is_of_lot, false) AS is_of_lot, is_served, warranty_days, back_day,
    coalesce(is_replacing, false) AS is_replacing,
    coalesce(is_replacing OR is_scrapped, false) AS is_removal,
    coalesce((is_replacing OR is_scrapped) AND (is_failed_before OR is_bad OR is_assumed), false) AS is_failed_removal,
    CASE WHEN kind = 'job' THEN nullif(buyer_follow, -1000000) END AS buyer_follow_day,
    CAST(attempts_until - attempts_at_module_start AS INTEGER) AS attempts_before,
    CASE
        WHEN opens_for_certain IS NOT NULL THEN opens_for_certain
        WHEN is_first_sight_maybe AND openings_until = openings_at_life_start THEN spell_kind('first_life')
    END AS opens,
    opens_for_certain IS NULL AS is_first_sight,
    closes_unless_idle OR is_preventive_clean AS is_closing
FROM based;
