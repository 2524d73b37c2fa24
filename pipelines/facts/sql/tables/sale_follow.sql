-- Grain: one row per sale and slot of the unit sold, with the return that followed, resolved to a stick.
CREATE OR REPLACE TEMP TABLE sale_follow AS
WITH sold AS (
    SELECT
        sale.unit_id,
        unix_date(sold_on) AS sold_day,
        lag(unix_date(sold_on)) OVER (PARTITION BY sale.unit_id ORDER BY sold_on) AS sold_day_before,
        lead(unix_date(sold_on)) OVER (PARTITION BY sale.unit_id ORDER BY sold_on) AS next_sold_day,
        CASE WHEN warranty_days > 0 THEN unix_date(sold_on) + warranty_days END AS follow_day,
        CASE WHEN returned_on <= setting.log_end THEN unix_date(returned_on) END AS returned_day,
        coalesce(return_reason = 'drift', false) AS is_drift_return
    FROM sale CROSS JOIN history_setting AS setting
    WHERE sold_on <= setting.log_end
), sold_slot AS (
    SELECT sold.*, slot.slot_no, slot.unit_no FROM sold JOIN slot ON slot.unit_id = sold.unit_id
), claim AS (
    -- the first warranty job of each stick after the sale
    SELECT
        sold_slot.slot_no, sold_slot.sold_day,
        min_by(visit_day, (visit_day, closed_day, job_key)) AS claim_day,
        min_by(visit_no, (visit_day, closed_day, job_key)) AS visit_no,
        -- (in a list, since min_by passes over blanks)
        min_by([mechanism], (visit_day, closed_day, job_key))[1] AS mechanism,
        min_by(is_bad OR is_assumed, (visit_day, closed_day, job_key)) AS is_confirmed,
        min_by(is_nff, (visit_day, closed_day, job_key)) AS is_withdrawn,
        min_by(is_replacing OR is_scrapped, (visit_day, closed_day, job_key)) AS is_removed
    FROM sold_slot JOIN visit
        ON visit.slot_no = sold_slot.slot_no AND visit.is_warranty_return
        AND visit.visit_day >= sold_slot.sold_day
        AND visit.visit_day < coalesce(sold_slot.next_sold_day, 2147483647)
    GROUP BY sold_slot.slot_no, sold_slot.sold_day
), cleaned AS (
    -- sticks that were cleaned at the bench before this sale, since the sale before
    SELECT DISTINCT sold_slot.slot_no, sold_slot.sold_day
    FROM sold_slot JOIN visit
        ON visit.slot_no = sold_slot.slot_no AND visit.clean_count > 0
        AND visit.visit_day <= sold_slot.sold_day
        AND visit.visit_day > coalesce(sold_slot.sold_day_before, -2147483647)
), known AS (
    SELECT
        sold_slot.*,
        claim.claim_day, claim.visit_no, claim.mechanism,
        coalesce(claim.is_confirmed, false) AS is_confirmed,
        coalesce(claim.is_withdrawn, false) AS is_withdrawn,
        coalesce(claim.is_removed, false) AS is_removed,
        cleaned.slot_no IS NOT NULL AS is_cleaned
    FROM sold_slot
    LEFT JOIN claim ON claim.slot_no = sold_slot.slot_no AND claim.sold_day = sold_slot.sold_day
    LEFT JOIN cleaned ON cleaned.slot_no = sold_slot.slot_no AND cleaned.sold_day = sold_slot.sold_day
), counted AS (
    SELECT
        *,
        is_drift_return AND follow_day IS NOT NULL AND returned_day <= follow_day AS is_claim,
        count(*) FILTER (WHERE is_confirmed) OVER one_sale AS confirmed_count,
        count(*) FILTER (WHERE is_cleaned) OVER one_sale AS cleaned_count,
        count(*) FILTER (WHERE is_withdrawn) OVER one_sale AS withdrawn_count,
        count(*) OVER one_sale AS stick_count
    FROM known
    WINDOW one_sale AS (PARTITION BY unit_no, sold_day)
), judged AS (
    SELECT
        *,
        -- the only stick cleaned, or the only stick there is
        is_claim AND confirmed_count = 0 AND NOT is_withdrawn
            AND ((is_cleaned AND cleaned_count = 1) OR stick_count = 1) AS is_unconfirmed
    FROM counted
)
SELECT
    slot_no, unit_no, sold_day, follow_day,
    -- a unit sold without a warranty is not followed, so neither is its return
    CASE
        WHEN follow_day IS NULL THEN NULL
        WHEN is_claim AND (is_confirmed OR is_withdrawn) THEN least(returned_day, claim_day)
        ELSE returned_day
    END AS returned_day,
    coalesce(is_claim AND is_confirmed, false) AS is_confirmed,
    -- the job that tells what was at fault
    CASE WHEN is_claim AND is_confirmed THEN visit_no END AS visit_no,
    CASE WHEN is_claim AND is_confirmed THEN mechanism END AS mechanism,
    coalesce(is_unconfirmed, false) AS is_unconfirmed,
    coalesce(
        is_claim AND confirmed_count = 0 AND withdrawn_count = 0
            AND count(*) FILTER (WHERE is_unconfirmed) OVER one_sale = 0, false
    ) AS is_stick_unknown,
    coalesce(is_claim AND is_removed, false) AS is_removed_at_claim
FROM judged
WINDOW one_sale AS (PARTITION BY unit_no, sold_day);
