-- Grain: one row per family, fate and grade (NULL: not noted): first sales of lot units by a day; NULL: by the end of the log.
-- recent: of the last 365 days before that day.
WITH sold AS (
    SELECT
        lot_unit.*,
        sold_on > coalesce(CAST($as_of AS DATE), setting.log_end) - 365 AS is_recent
    FROM lot_unit CROSS JOIN history_setting AS setting
    WHERE price IS NOT NULL AND fate <> 'open' AND ($as_of IS NULL OR sold_on < CAST($as_of AS DATE))
)
SELECT
    family,
    fate,
    grade,
    CAST(count(*) AS BIGINT) AS sold_count,
    avg(price) AS price_mean,
    stddev_samp(price) AS price_sd,
    max_by(price, (sold_on, price)) AS last_price,
    max(sold_on) AS last_sold_on,
    CAST(count(*) FILTER (WHERE is_recent) AS BIGINT) AS recent_count,
    avg(price) FILTER (WHERE is_recent) AS recent_mean,
    stddev_samp(price) FILTER (WHERE is_recent) AS recent_sd
FROM sold
GROUP BY family, fate, grade
ORDER BY family, fate, grade;
