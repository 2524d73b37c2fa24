-- Grain: one row per event, with the state of the stick before it and what the event opens and closes.
-- Every running value is a window over the slot's events in order.
CREATE OR REPLACE TEMP TABLE walk AS
WITH worded AS (
    SELECT
        event.*,
        visit.* EXCLUDE (job_key, slot_no, unit_no, unit_id, stick, family),
        CASE
            WHEN event.kind = 'registration' AND event.is_new THEN false
            WHEN event.kind = 'unit_scrap' THEN false
            WHEN event.kind = 'return' AND event.is_return_failure THEN true
            WHEN event.kind <> 'job' THEN NULL
            WHEN is_replacing OR is_scrapped THEN false
            WHEN is_good_sight OR (is_passed AND is_repair) THEN false
            WHEN is_bad OR is_assumed THEN true
        END AS is_failed_after
    FROM event LEFT JOIN visit ON visit.job_key = event.job_key
), stated AS (
    SELECT
        *,
        coalesce(last_value(is_failed_after IGNORE NULLS) OVER earlier, false) AS is_failed_before,
        coalesce(count(*) FILTER (WHERE kind = 'unit_scrap') OVER earlier, 0)::INTEGER AS life,
        coalesce(count(*) FILTER (WHERE coalesce(is_replacing, false) OR kind = 'unit_scrap') OVER earlier, 0)::INTEGER
            AS module_no,
        last_value(CASE WHEN is_good_sight THEN event_day END IGNORE NULLS) OVER earlier AS good_sight_day
    FROM worded
    WINDOW earlier AS (PARTITION BY slot_no ORDER BY event_no ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
), judged AS (
    SELECT
        *,
        module_no - coalesce(
            last_value(CASE WHEN kind = 'unit_scrap' THEN module_no + 1 END IGNORE NULLS) OVER earlier, 0
        ) + 1 AS generation,
        CASE
            WHEN kind = 'job' THEN (is_bad OR is_assumed) AND NOT is_intake AND NOT is_failed_before
            ELSE is_return_failure AND NOT is_failed_before
        END AS is_failure,
        coalesce(clean_count > 0 AND (is_bad OR is_assumed OR (is_failed_before AND NOT is_nff)), false) AS is_attempt,
        CASE
            WHEN is_last_clean_given_up OR verdict IN ('fail', 'scrapped') THEN false
            WHEN is_passed THEN true
        END AS is_last_clean_passed
    FROM stated
    WINDOW earlier AS (PARTITION BY slot_no ORDER BY event_no ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING)
), counted AS (
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
)
SELECT
    event_no, slot_no, unit_no, event_day, kind, job_key, life, generation, module_no, follow_day,
    is_failure, is_failed_before, is_failed_after, is_return_failure, is_attempt, is_last_clean_passed, attempt_count,
    is_preventive_clean, coalesce(clean_count > 0 AND NOT is_attempt AND is_intake AND tested IS NULL, false) AS is_intake_untested,
    good_sight_day, is_reported, is_assumed, is_bad OR is_assumed AS is_found_failed, mechanism, is_stock, is_served, warranty_days, back_day,
    is_replacing, is_scrapped, is_leaving, part_batch_fitted, depths,
    coalesce(sum(attempt_count) OVER same_module, 0)::INTEGER AS attempts_before,
    CASE
        WHEN opens_for_certain IS NOT NULL THEN opens_for_certain
        WHEN is_first_sight_maybe AND NOT coalesce(
            bool_or(opens_for_certain IS NOT NULL OR is_first_sight_maybe) OVER same_life, false
        ) THEN 'first_life'
    END AS opens,
    opens_for_certain IS NULL AS is_first_sight,
    is_failure OR is_preventive_clean OR kind IN ('sale', 'return', 'out', 'unit_scrap')
        OR coalesce(is_replacing OR is_scrapped OR is_leaving, false) AS is_closing
FROM counted
WINDOW
    same_module AS (PARTITION BY slot_no, module_no ORDER BY event_no ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING),
    same_life AS (PARTITION BY slot_no, life ORDER BY event_no ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING);
