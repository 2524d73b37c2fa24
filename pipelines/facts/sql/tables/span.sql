-- Grain: one row per spell as dates alone: from what opened it to the next thing that closed it, uncut.
CREATE OR REPLACE TEMP TABLE span AS
WITH boundary AS (
    SELECT *, row_number() OVER () AS boundary_no
    FROM (SELECT * FROM walk WHERE opens IS NOT NULL OR is_closing ORDER BY event_no)
), placed AS (
    SELECT
        boundary.*,
        slot.in_service_day,
        slot.is_registered,
        slot.out_day,
        coalesce(
            next_one.kind = 'sale' AND (boundary.is_stock OR boundary.is_of_lot OR NOT slot.is_registered), false
        ) AS is_sold_first,
        boundary.is_stock OR (NOT slot.is_registered AND coalesce(slot.last_sold_day >= boundary.event_day, false))
            AS is_on_shelf,
        next_one.event_day AS next_day,
        next_one.follow_day AS sale_follow_day
    FROM boundary
    JOIN slot ON slot.slot_no = boundary.slot_no
    LEFT JOIN boundary AS next_one
        ON next_one.boundary_no = boundary.boundary_no + 1 AND next_one.slot_no = boundary.slot_no
    WHERE boundary.opens IS NOT NULL
), dated AS (
    SELECT
        *,
        CASE
            WHEN kind = 'registration' THEN event_day
            WHEN is_sold_first AND sale_follow_day IS NULL THEN NULL
            WHEN is_sold_first THEN next_day
            WHEN is_on_shelf AND NOT is_served THEN NULL
            WHEN life = 0 THEN greatest(back_day, coalesce(in_service_day, back_day))
            ELSE back_day
        END AS opened_day,
        boundary_no + 1 + is_sold_first::INTEGER AS closing_no
    FROM placed
)
SELECT
    dated.event_no AS spell_no, dated.slot_no, dated.unit_no, dated.life, dated.visit_no, dated.is_first_sight,
    dated.opens AS kind,
    dated.module_no + (dated.opens = 'first_life' AND dated.is_replacing)::INTEGER AS module_no,
    dated.generation + (dated.opens = 'first_life' AND dated.is_replacing)::INTEGER AS generation,
    dated.opens = 'first_life' AND dated.is_replacing AS is_new_module,
    CASE WHEN dated.opens = 'after_clean' THEN dated.attempts_before + dated.attempt_count END AS attempt_number,
    dated.opened_day,
    -- no play between the bench reading and the return to service; a sale has no reading of its own
    CASE
        WHEN dated.is_sold_first OR coalesce(dated.event_day < dated.in_service_day AND dated.life = 0, false)
            THEN dated.opened_day
        ELSE least(dated.event_day, dated.opened_day)
    END AS opened_reading_day,
    CASE
        WHEN dated.is_sold_first THEN dated.sale_follow_day
        WHEN dated.life = 0 AND dated.out_day IS NOT NULL THEN dated.out_day
        ELSE dated.opened_day + dated.warranty_days
    END AS follow_day,
    closing.event_day AS closed_day, closing.kind AS closed_by, closing.visit_no AS closing_visit_no,
    coalesce(closing.is_failure, false) AS is_failed, coalesce(closing.is_reported, false) AS is_reported,
    coalesce(closing.kind = 'return', false) AS is_exact, coalesce(closing.is_assumed, false) AS is_assumed,
    closing.good_sight_day
FROM dated
LEFT JOIN boundary AS closing ON closing.boundary_no = dated.closing_no AND closing.slot_no = dated.slot_no
WHERE dated.opened_day IS NOT NULL;
