-- Grain: one row per unit and lot that it came in, with its fate and what became of it.
-- fate: the worst over its sticks and visits until it was sold or finished; finished: each stick seen is good and not held.
-- Minutes and money are NULL where a job does not say them that must have cost some.
CREATE OR REPLACE TEMP TABLE lot_unit AS
WITH stick_left AS (
    SELECT span_no, stick, max_by(is_ready, (received_on, closed_on, length(job_key), job_key)) AS is_ready
    FROM lot_job WHERE is_before_sale
    GROUP BY span_no, stick
), finishing AS (
    SELECT span_no, bool_and(is_ready) AS is_ready FROM stick_left GROUP BY span_no
), work AS (
    SELECT
        span_no,
        min(claim_on) AS claim_on,
        max(closed_on) FILTER (WHERE is_before_sale) AS closed_on,
        least(min(closed_on) FILTER (WHERE is_before_sale AND is_scrapped), min(withdrawn_on)) AS scrapped_on,
        coalesce(bool_or(is_part_fitted) FILTER (WHERE is_before_sale), false) AS is_part_fitted,
        coalesce(bool_or(is_mended) FILTER (WHERE is_before_sale), false) AS is_mended,
        count(*) FILTER (WHERE is_before_sale AND is_sensor_fitted) AS sensor_count,
        count(*) FILTER (WHERE is_before_sale AND is_module_fitted) AS module_count,
        count(*) FILTER (WHERE is_before_sale AND is_board_fitted) AS board_count,
        CASE WHEN count(*) FILTER (WHERE is_before_sale AND bench_minutes IS NULL) = 0
            THEN sum(bench_minutes) FILTER (WHERE is_before_sale) END AS bench_minutes,
        CASE WHEN count(*) FILTER (WHERE is_before_sale AND parts_cost IS NULL AND is_part_fitted) = 0
            THEN coalesce(sum(parts_cost) FILTER (WHERE is_before_sale), 0) END AS parts_cost,
        CASE WHEN count(*) FILTER (WHERE is_before_sale AND consumables_cost IS NULL AND is_cleaned) = 0
            THEN coalesce(sum(consumables_cost) FILTER (WHERE is_before_sale), 0) END AS consumables_cost,
        CASE WHEN count(*) FILTER (WHERE is_warranty AND bench_minutes IS NULL) = 0
            THEN coalesce(sum(bench_minutes) FILTER (WHERE is_warranty), 0) END AS warranty_minutes,
        CASE WHEN count(*) FILTER (WHERE is_warranty AND (
                (parts_cost IS NULL AND is_part_fitted) OR (consumables_cost IS NULL AND is_cleaned))) = 0
            THEN coalesce(sum(coalesce(parts_cost, 0) + coalesce(consumables_cost, 0)) FILTER (WHERE is_warranty), 0)
            END AS warranty_cost
    FROM lot_job GROUP BY span_no
), listing AS (
    -- a unit of a family that its lot does not name has the lot's condition where all of it has one
    SELECT
        lot_id, min(seller) AS seller, min(bought_on) AS bought_on,
        CASE WHEN count(DISTINCT coalesce(stated_condition, 'unknown')) = 1 THEN min(stated_condition) END AS stated_condition
    FROM lot GROUP BY lot_id
), known AS (
    SELECT
        lot_span.*,
        work.* EXCLUDE (span_no),
        coalesce(finishing.is_ready, false) AS is_ready,
        coalesce(grade = 'parts', false) AS is_sold_for_parts,
        -- what is sold after a scrap under the same tag is another controller, unless it was sold for parts
        is_sold_for_parts OR scrapped_on IS NULL AS is_sale_its_own
    FROM lot_span
    LEFT JOIN work ON work.span_no = lot_span.span_no
    LEFT JOIN finishing ON finishing.span_no = lot_span.span_no
), fated AS (
    SELECT
        *,
        CASE
            WHEN scrapped_on IS NOT NULL OR is_sold_for_parts THEN 'scrap'
            WHEN NOT is_ready AND sold_on IS NULL AND claim_on IS NULL THEN 'open'
            WHEN is_part_fitted THEN 'new_part'
            WHEN is_mended THEN 'cleaned'
            ELSE 'works'
        END AS fate_so_far,
        CASE
            WHEN scrapped_on IS NOT NULL OR is_sold_for_parts THEN least(scrapped_on, CASE WHEN is_sold_for_parts THEN sold_on END)
            ELSE least(CASE WHEN is_ready THEN closed_on END, sold_on, claim_on)
        END AS fate_on
    FROM known
)
SELECT
    fated.unit_id,
    fated.lot_id,
    fated.family,
    listing.lot_id IS NOT NULL AS is_listed,
    listing.seller,
    coalesce(lot.stated_condition, listing.stated_condition, 'unknown') AS stated_condition,
    listing.bought_on,
    fated.intake_on,
    -- a job may close after the end of the log
    CASE WHEN fate_on <= setting.log_end THEN fate_so_far ELSE 'open' END AS fate,
    CASE WHEN fate_on <= setting.log_end THEN fate_on END AS finished_on,
    fated.bench_minutes, fated.parts_cost, fated.consumables_cost,
    coalesce(fated.sensor_count, 0) AS sensor_count,
    coalesce(fated.module_count, 0) AS module_count,
    coalesce(fated.board_count, 0) AS board_count,
    fated.warranty_minutes, fated.warranty_cost,
    CASE WHEN is_sale_its_own THEN sold_on END AS sold_on,
    CASE WHEN is_sale_its_own THEN price END AS price,
    CASE WHEN is_sale_its_own THEN grade END AS grade,
    CASE WHEN is_sale_its_own THEN warranty_days END AS warranty_days,
    CASE WHEN is_sale_its_own THEN returned_on END AS returned_on,
    CASE WHEN is_sale_its_own THEN return_reason END AS return_reason,
    CASE WHEN is_sale_its_own THEN last_price END AS last_price,
    is_sale_its_own AND last_returned_on IS NOT NULL AS is_last_returned
FROM fated
CROSS JOIN history_setting AS setting
LEFT JOIN listing ON listing.lot_id = fated.lot_id
LEFT JOIN lot ON lot.lot_id = fated.lot_id AND lot.family = fated.family;
