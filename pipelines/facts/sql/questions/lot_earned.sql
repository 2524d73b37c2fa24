-- Grain: one row per lot: what it cost and what came in. Prices of several lines are added up.
-- A unit that came back and was sold again brings its last price; returned_income: of sales that came back and ended there.
-- *_unknown_count: units whose jobs do not say what must have been spent; their known spending is not in the sums.
WITH bought AS (
    SELECT
        lot_id, min(seller) AS seller, min(bought_on) AS bought_on,
        CAST(sum(units_bought) AS BIGINT) AS bought_count,
        sum(lot_price) AS lot_price, sum(buyer_premium) AS buyer_premium, sum(freight) AS freight, sum(tax) AS tax
    FROM lot GROUP BY lot_id
), unit_of_lot AS (
    SELECT
        lot_id,
        CAST(count(*) AS BIGINT) AS seen_count,
        CAST(count(*) FILTER (WHERE fate = 'open') AS BIGINT) AS open_count,
        CAST(count(*) FILTER (WHERE fate = 'scrap') AS BIGINT) AS scrap_count,
        CAST(count(sold_on) AS BIGINT) AS sold_count,
        CAST(count(*) FILTER (WHERE sold_on IS NULL AND fate NOT IN ('open', 'scrap')) AS BIGINT) AS unsold_count,
        coalesce(sum(last_price), 0) AS sale_income,
        coalesce(sum(last_price) FILTER (WHERE is_last_returned), 0) AS returned_income,
        CAST(count(*) FILTER (WHERE is_last_returned) AS BIGINT) AS returned_count,
        coalesce(sum(bench_minutes), 0) / 60 AS bench_h,
        CAST(count(*) FILTER (WHERE bench_minutes IS NULL) AS BIGINT) AS bench_unknown_count,
        coalesce(sum(parts_cost), 0) + coalesce(sum(consumables_cost), 0) AS spent,
        CAST(count(*) FILTER (WHERE parts_cost IS NULL OR consumables_cost IS NULL) AS BIGINT) AS spent_unknown_count,
        coalesce(sum(warranty_minutes), 0) / 60 AS warranty_h,
        coalesce(sum(warranty_cost), 0) AS warranty_spent
    FROM lot_unit GROUP BY lot_id
)
SELECT
    coalesce(bought.lot_id, unit_of_lot.lot_id) AS lot_id, bought.lot_id IS NOT NULL AS is_listed,
    bought.* EXCLUDE (lot_id),
    unit_of_lot.* EXCLUDE (lot_id)
FROM bought FULL JOIN unit_of_lot ON unit_of_lot.lot_id = bought.lot_id
ORDER BY lot_id;
