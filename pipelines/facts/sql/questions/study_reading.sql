-- Grain: one row per reading of the studies of the tester: who read which stick, in the order in which they read it.
SELECT unit_id || ' ' || stick AS stick, technician AS person, measure, value
FROM repeat_reading
ORDER BY measure, stick, person, trial, read_on;
