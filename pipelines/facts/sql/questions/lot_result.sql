-- Grain: one row per lot, family, fate and whether it is settled: what came of its units, for the lots' forecasts to be held against.
-- Settled: sold, scrapped, or given up, which is what neither the bench nor a buyer has taken in so many days; a unit that the
-- bench never finished is then scrap. First sales only; returns within the warranty, as far as `lot_return.sql` watches them.
-- warranty_left: of units sold and not back, the share of the warranty not watched yet, added up.
WITH judged AS (
    SELECT
        lot_unit.*,
        coalesce(finished_on, intake_on) <= setting.log_end - CAST($given_up_after_days AS INTEGER) AS is_given_up,
        sold_on IS NOT NULL OR fate = 'scrap' OR is_given_up AS is_settled,
        coalesce(
            unix_date(returned_on) <= unix_date(sold_on) + warranty_days AND unix_date(returned_on) <= setting.cut_day, false
        ) AS is_back,
        CASE
            WHEN NOT is_back AND warranty_days > 0
                THEN least(greatest(unix_date(sold_on) + warranty_days - setting.cut_day, 0) / warranty_days, 1)
        END AS warranty_left
    FROM lot_unit CROSS JOIN history_setting AS setting
)
SELECT
    lot_id,
    family,
    CASE WHEN fate = 'open' AND is_settled THEN 'scrap' ELSE fate END AS fate,
    is_settled,
    CAST(count(*) AS BIGINT) AS unit_count,
    CAST(count(sold_on) AS BIGINT) AS sold_count,
    CAST(count(price) AS BIGINT) AS priced_count,
    coalesce(sum(price), 0) AS sale_income,
    CAST(count(bench_minutes) AS BIGINT) AS timed_count,
    coalesce(sum(bench_minutes), 0) / 60 AS bench_h,
    CAST(count(*) FILTER (WHERE parts_cost IS NOT NULL AND consumables_cost IS NOT NULL) AS BIGINT) AS costed_count,
    coalesce(sum(parts_cost + consumables_cost), 0) AS spent,
    CAST(count(*) FILTER (WHERE is_back) AS BIGINT) AS returned_count,
    coalesce(sum(warranty_left), 0) AS warranty_left
FROM judged
GROUP BY ALL
ORDER BY lot_id, family, fate, is_settled;
