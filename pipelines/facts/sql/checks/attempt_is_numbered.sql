-- Grain: one row per module whose attempts are not numbered 1, 2, 3 …; there must be none.
SELECT slot_no, life, generation
FROM attempt
WHERE slot_no IS NOT NULL
GROUP BY slot_no, life, generation
HAVING min(attempt_number) <> 1 OR max(attempt_number) <> count(*) OR count(DISTINCT attempt_number) <> count(*);
