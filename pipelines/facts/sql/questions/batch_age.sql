-- Grain: one row: the longest age watched, and the ages by which the shares $shares of the failures had come (null: no failure).
SELECT max(at_time) AS longest, quantile_cont(at_time, $shares) FILTER (WHERE is_failure) AS ages
FROM batch_spell WHERE has_length;
