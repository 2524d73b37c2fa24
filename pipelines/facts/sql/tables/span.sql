-- Grain: one row per spell as dates alone: from what opened it to the next thing that closed it, uncut.
CREATE OR REPLACE TEMP TABLE span AS
WITH boundary AS (
    -- in the order of the walk, which DuckDB keeps
    SELECT * FROM walk WHERE opens IS NOT NULL OR is_closing
), ahead AS (
    -- the next thing that closes, and the one after it, where the next is the sale that begins the exposure
    SELECT
        *,
        coalesce(lead(slot_no, 1) OVER () = slot_no, false) AS has_next,
        coalesce(lead(slot_no, 2) OVER () = slot_no, false) AS has_after_next,
        lead(kind, 1) OVER () AS next_kind, lead(kind, 2) OVER () AS after_next_kind,
        lead(event_day, 1) OVER () AS next_event_day, lead(event_day, 2) OVER () AS after_next_event_day,
        lead(follow_day, 1) OVER () AS next_follow_day, lead(follow_day, 2) OVER () AS after_next_follow_day,
        lead(mechanism, 1) OVER () AS next_mechanism, lead(mechanism, 2) OVER () AS after_next_mechanism,
        lead(is_failure, 1) OVER () AS next_is_failure, lead(is_failure, 2) OVER () AS after_next_is_failure,
        lead(is_reported, 1) OVER () AS next_is_reported, lead(is_reported, 2) OVER () AS after_next_is_reported,
        lead(is_assumed, 1) OVER () AS next_is_assumed, lead(is_assumed, 2) OVER () AS after_next_is_assumed,
        lead(good_sight_day, 1) OVER () AS next_good_sight_day, lead(good_sight_day, 2) OVER () AS after_next_good_sight_day
    FROM boundary
), placed AS (
    SELECT
        ahead.*,
        slot.unit_no,
        slot.in_service_day,
        slot.is_registered,
        slot.out_day,
        slot.family, slot.usage_class, slot.site, slot.stick,
        has_next AND next_kind = 'sale'
            AND (is_stock OR is_of_lot OR NOT slot.is_registered OR buyer_follow_day IS NOT NULL) AS is_sold_first,
        -- a registered unit that once came in a lot may be in service like any other; one repaired for its buyer goes back
        is_stock OR (
            NOT slot.is_registered AND buyer_follow_day IS NULL
            AND (is_of_lot OR coalesce(slot.last_sold_day >= event_day, false))
        ) AS is_on_shelf
    FROM ahead JOIN known_slot AS slot ON slot.slot_no = ahead.slot_no
    WHERE opens IS NOT NULL
), dated AS (
    SELECT
        *,
        CASE
            WHEN kind = 'registration' THEN event_day
            WHEN is_sold_first AND next_follow_day IS NULL THEN NULL
            WHEN is_sold_first THEN next_event_day
            WHEN is_on_shelf AND NOT is_served THEN NULL
            WHEN life = 0 THEN greatest(back_day, coalesce(in_service_day, back_day))
            ELSE back_day
        END AS opened_day,
        CASE WHEN is_sold_first THEN has_after_next ELSE has_next END AS is_closed
    FROM placed
)
SELECT
    dated.event_no AS spell_no, dated.slot_no, dated.unit_no, dated.is_registered, dated.family, dated.usage_class, dated.site, dated.stick,
    dated.life, dated.visit_no, dated.is_first_sight,
    dated.opens AS kind,
    dated.module_no + (dated.opens = 'first_life' AND dated.is_replacing)::INTEGER AS module_no,
    dated.generation + (dated.opens = 'first_life' AND dated.is_replacing)::INTEGER AS generation,
    dated.opens = 'first_life' AND dated.is_replacing AS is_new_module,
    CASE WHEN dated.opens = 'after_clean' THEN dated.last_depth END AS depth,
    CASE WHEN dated.opens = 'after_clean' THEN dated.mechanism END AS mechanism,
    CASE WHEN dated.opens = 'after_clean' THEN dated.attempts_before + dated.attempt_count END AS attempt_number,
    dated.opened_day,
    -- no play between the bench reading and the return to service; a sale has no reading of its own
    CASE
        WHEN dated.is_sold_first OR coalesce(dated.event_day < dated.in_service_day AND dated.life = 0, false)
            THEN dated.opened_day
        ELSE least(dated.event_day, dated.opened_day)
    END AS opened_reading_day,
    CASE
        WHEN dated.is_sold_first THEN dated.next_follow_day
        WHEN dated.life = 0 AND dated.out_day IS NOT NULL THEN least(dated.out_day, coalesce(dated.buyer_follow_day, dated.out_day))
        -- the longer of the warranty of the sale before and that of the job
        WHEN dated.buyer_follow_day IS NOT NULL
            THEN greatest(dated.buyer_follow_day, coalesce(dated.opened_day + dated.warranty_days, dated.buyer_follow_day))
        ELSE dated.opened_day + dated.warranty_days
    END AS follow_day,
    CASE WHEN is_closed THEN CASE WHEN is_sold_first THEN after_next_event_day ELSE next_event_day END END AS closed_day,
    CASE WHEN is_closed THEN CASE WHEN is_sold_first THEN after_next_kind ELSE next_kind END END AS closed_by,
    CASE WHEN is_closed THEN CASE WHEN is_sold_first THEN after_next_mechanism ELSE next_mechanism END END AS failed_by,
    coalesce(CASE WHEN is_closed THEN CASE WHEN is_sold_first THEN after_next_is_failure ELSE next_is_failure END END, false) AS is_failed,
    coalesce(CASE WHEN is_closed THEN CASE WHEN is_sold_first THEN after_next_is_reported ELSE next_is_reported END END, false) AS is_reported,
    coalesce(CASE WHEN is_closed THEN CASE WHEN is_sold_first THEN after_next_kind ELSE next_kind END END = 'return', false) AS is_exact,
    coalesce(CASE WHEN is_closed THEN CASE WHEN is_sold_first THEN after_next_is_assumed ELSE next_is_assumed END END, false) AS is_assumed,
    CASE WHEN is_closed THEN CASE WHEN is_sold_first THEN after_next_good_sight_day ELSE next_good_sight_day END END AS good_sight_day
FROM dated
WHERE dated.opened_day IS NOT NULL;
