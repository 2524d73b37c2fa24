-- Grain: one row, how many controllers of the log are not own ones.
SELECT CAST(count(DISTINCT unit_no) AS BIGINT)
FROM slot
WHERE NOT EXISTS (SELECT 1 FROM own_slot WHERE own_slot.slot_no = slot.slot_no);
