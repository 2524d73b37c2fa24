-- Grain: one row per lot, family, fate, grade, warranty, days watched and end: first sales of lot units that have a warranty.
-- Watched from the sale to the return, the end of the warranty, or the quiet lag before a day (NULL: the end of the log);
-- returns and exposure are cut there alike. A return on the day of the sale counts as half a day.
WITH cut AS (
    SELECT
        log_end,
        least(cut_day, unix_date(CAST($as_of AS DATE)) - (log_end_day - cut_day)) AS cut_day
    FROM history_setting
), watched AS (
    SELECT
        lot_id, seller, stated_condition, family, fate, grade, warranty_days, return_reason, cut.cut_day,
        unix_date(sold_on) AS sold_day,
        unix_date(returned_on) AS returned_day,
        least(unix_date(sold_on) + warranty_days, cut.cut_day) AS until_day
    FROM lot_unit CROSS JOIN cut
    WHERE warranty_days > 0 AND fate <> 'open'
), ended AS (
    SELECT
        *,
        coalesce(returned_day <= until_day, false) AS is_returned,
        CASE WHEN returned_day <= until_day THEN greatest(returned_day - sold_day, 0.5) ELSE until_day - sold_day END AS days
    FROM watched
    WHERE sold_day <= cut_day
)
SELECT
    lot_id,
    seller,
    stated_condition,
    family,
    fate,
    grade,
    warranty_days,
    CAST(days AS DOUBLE) AS days,
    is_returned,
    CASE WHEN is_returned THEN return_reason END AS return_reason,
    CAST(count(*) AS BIGINT) AS sale_count
FROM ended
WHERE days > 0
GROUP BY ALL
ORDER BY ALL;
