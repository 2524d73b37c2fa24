-- Grain: one row per site, period (begins, ends] of days since 1970-01-01 ($begins, $ends) and whether a stick was the cause (true where
-- no cause is on record): stops, their hours out of use and the squares of them, the hours of which takings are known, and takings.
-- Times of one seat that overlap count once. A stop without an end lasts to the end of the month in which it began; after that it is
-- among open_count alone, because nobody may have written the end down. A seat's site is that of most of its jobs, else of most
-- controllers assigned to it.
WITH period AS (
    SELECT
        unnest(range(len($begins))) AS period_no,
        date_from_unix_date(unnest($begins) + 1)::TIMESTAMP AS begins, date_from_unix_date(unnest($ends) + 1)::TIMESTAMP AS ends
), seat_seen AS (
    SELECT station_id, site_id AS site, 1 AS rank FROM job WHERE station_id IS NOT NULL AND site_id IS NOT NULL
    UNION ALL
    SELECT assignment.station_id, slot.site, 2 FROM assignment JOIN slot ON slot.unit_id = assignment.unit_id WHERE slot.site IS NOT NULL
), seat AS (
    SELECT station_id, arg_max(site, (-rank, seen)) AS site
    FROM (SELECT station_id, site, rank, count(*) AS seen FROM seat_seen GROUP BY ALL) GROUP BY station_id
), stop AS (
    SELECT
        station_id, down_from, revenue_per_hour, coalesce(cause = 'stick', true) AS is_stick, down_to IS NULL AS is_open,
        coalesce(down_to, least(
            date_trunc('month', down_from) + INTERVAL 1 MONTH, CAST(setting.log_end + INTERVAL 1 DAY AS TIMESTAMP)
        )) AS down_to
    FROM downtime CROSS JOIN history_setting AS setting
), apart AS (
    SELECT
        *,
        greatest(down_from, coalesce(max(down_to) OVER (
            PARTITION BY station_id ORDER BY down_from, down_to ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING
        ), down_from)) AS counted_from
    FROM stop
), counted AS (
    SELECT
        seat.site, period.period_no, apart.is_stick, apart.revenue_per_hour,
        apart.is_open AND apart.down_to <= period.begins AS is_open,
        greatest(date_diff(
            'second', greatest(apart.counted_from, period.begins), least(apart.down_to, period.ends)
        ), 0) / 3600.0 AS hours
    FROM apart
    JOIN period ON apart.down_from < period.ends AND (apart.down_to > period.begins OR apart.is_open)
    LEFT JOIN seat ON seat.station_id = apart.station_id
)
SELECT
    site, CAST(period_no AS BIGINT) AS period_no, is_stick,
    CAST(count(*) FILTER (WHERE hours > 0) AS BIGINT) AS stop_count, sum(hours) AS hours, sum(hours * hours) AS hours_squared,
    coalesce(sum(hours) FILTER (WHERE revenue_per_hour IS NOT NULL), 0) AS priced_hours,
    coalesce(sum(hours * revenue_per_hour), 0) AS takings, coalesce(sum((hours * revenue_per_hour) ** 2), 0) AS takings_squared,
    CAST(count(*) FILTER (WHERE is_open) AS BIGINT) AS open_count
FROM counted
GROUP BY site, period_no, is_stick
ORDER BY site, period_no, is_stick;
