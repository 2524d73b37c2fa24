-- Grain: one row: the times out of use because of a stick that are over, their mean length in hours, and the mean takings of
-- an hour where they are written.
SELECT
    CAST(count(*) AS BIGINT) AS stop_count, avg(date_diff('second', down_from, down_to) / 3600.0) AS hours_mean,
    CAST(count(revenue_per_hour) AS BIGINT) AS revenue_count, avg(revenue_per_hour) AS revenue_mean
FROM downtime
WHERE cause = 'stick' AND down_to > down_from;
