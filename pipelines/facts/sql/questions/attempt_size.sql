-- Grain: one row, how many attempts are asked for and the longest follow-up in hours.
SELECT CAST(count(*) AS BIGINT), coalesce(max(held_h), 0) FROM asked_attempt;
