-- Grain: one row per spell as dates alone: from what opened it to the next thing that closed it, uncut.
CREATE OR REPLACE TEMP TABLE span AS
WITH boundary AS (
    SELECT
        walk.* EXCLUDE (depths, is_failed_after),
        depths[clean_count_at_end] AS depth,
        slot.is_registered,
        slot.in_service_day,
        {
            'day': event_day, 'kind': kind, 'is_failure': is_failure, 'is_reported': coalesce(is_reported, false),
            'is_exact': kind = 'return', 'good_sight_day': good_sight_day, 'job_key': job_key,
            'follow_day': follow_day, 'is_assumed': coalesce(is_assumed AND is_failure, false),
            'mechanism': mechanism
        } AS self
    FROM (SELECT *, len(depths) AS clean_count_at_end FROM walk) AS walk
    JOIN slot ON slot.slot_no = walk.slot_no
    WHERE opens IS NOT NULL OR is_closing
), paired AS (
    SELECT
        *, lead(self, 1) OVER onward AS next_one, lead(self, 2) OVER onward AS next_but_one
    FROM boundary
    WINDOW onward AS (PARTITION BY slot_no ORDER BY event_no)
), placed AS (
    SELECT
        *,
        coalesce(next_one.kind = 'sale' AND (coalesce(is_stock, false) OR NOT is_registered), false) AS is_sold_first
    FROM paired
    WHERE opens IS NOT NULL
), dated AS (
    SELECT
        event_no, slot_no, life, generation, module_no, opens AS kind, is_first_sight, job_key,
        CASE WHEN opens = 'after_clean' THEN depth END AS depth,
        CASE WHEN opens = 'after_clean' THEN mechanism END AS mechanism,
        CASE WHEN opens = 'after_clean' THEN attempts_before + attempt_count END AS attempt_number,
        is_sold_first,
        (opens = 'first_life' AND kind = 'job' AND coalesce(is_replacing, false))::INTEGER AS is_new_module,
        CASE
            WHEN kind = 'registration' THEN event_day
            WHEN is_sold_first AND next_one.follow_day IS NULL THEN NULL
            WHEN is_sold_first THEN next_one.day
            WHEN is_stock AND NOT is_registered AND NOT is_served THEN NULL
            ELSE greatest(back_day, coalesce(in_service_day, back_day))
        END AS opened_day,
        event_day AS bench_day,
        CASE WHEN is_sold_first THEN next_but_one ELSE next_one END AS closing,
        next_one.follow_day AS sale_follow_day,
        warranty_days
    FROM placed
)
SELECT
    event_no AS spell_no, slot_no, life, generation, module_no, is_new_module, kind, is_first_sight, job_key,
    depth, mechanism, attempt_number, opened_day,
    -- no play between the bench reading and the return to service; a sale has no reading of its own
    CASE WHEN is_sold_first THEN opened_day ELSE least(bench_day, opened_day) END AS opened_reading_day,
    CASE WHEN is_sold_first THEN sale_follow_day ELSE opened_day + warranty_days END AS follow_day,
    closing.day AS closed_day, closing.kind AS closed_by, closing.job_key AS closing_job_key,
    coalesce(closing.is_failure, false) AS is_failed, coalesce(closing.is_reported, false) AS is_reported,
    coalesce(closing.is_exact, false) AS is_exact, coalesce(closing.is_assumed, false) AS is_assumed,
    closing.good_sight_day AS good_sight_day, closing.mechanism AS failed_by
FROM dated
WHERE opened_day IS NOT NULL AND (closing IS NULL OR closing.day >= opened_day);
