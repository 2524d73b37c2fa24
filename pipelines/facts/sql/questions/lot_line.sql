-- Grain: one row per lot and family: what was bought, at what price, and how many units the bench has seen.
-- A family that came in a lot without being listed in it, or a lot that is not listed at all, has no line: is_listed false.
-- not_seen_count: received, else bought, less those seen; never more than the whole lot still lacks.
WITH seen AS (
    SELECT lot_id, family, count(*) AS seen_count, min(intake_on) AS first_intake_on FROM lot_unit GROUP BY lot_id, family
), line AS (
    SELECT
        coalesce(lot.lot_id, seen.lot_id) AS lot_id,
        coalesce(lot.family, seen.family) AS family,
        lot.lot_id IS NOT NULL AS is_listed,
        lot.seller, coalesce(lot.stated_condition, 'unknown') AS stated_condition, lot.bought_on,
        lot.units_bought AS bought_count, lot.units_received AS received_count, lot.units_tested AS tested_count,
        lot.lot_price, lot.buyer_premium, lot.freight, lot.tax,
        coalesce(seen.seen_count, 0) AS seen_count,
        seen.first_intake_on
    FROM lot FULL JOIN seen ON seen.lot_id = lot.lot_id AND seen.family = lot.family
    CROSS JOIN history_setting AS setting
    WHERE lot.bought_on IS NULL OR lot.bought_on <= setting.log_end
)
SELECT
    * EXCLUDE (seen_count, first_intake_on),
    seen_count,
    first_intake_on,
    CASE WHEN is_listed THEN greatest(0, least(
        coalesce(received_count, bought_count) - seen_count,
        sum(coalesce(received_count, bought_count)) OVER whole_lot - sum(seen_count) OVER whole_lot
    )) ELSE 0 END AS not_seen_count,
    -- several lines with the very same price: perhaps that of the whole lot, written on each
    coalesce(
        count(*) FILTER (WHERE is_listed) OVER whole_lot > 1
            AND min(lot_price) OVER whole_lot = max(lot_price) OVER whole_lot, false
    ) AS is_price_repeated
FROM line
WINDOW whole_lot AS (PARTITION BY lot_id)
ORDER BY lot_id, family;
