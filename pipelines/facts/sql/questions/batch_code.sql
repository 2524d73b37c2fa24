-- Grain: one row per batch with spells of length, in the order of names, with its number.
CREATE OR REPLACE TEMP TABLE batch_code AS
SELECT *, CAST(row_number() OVER (ORDER BY batch) AS INTEGER) - 1 AS batch_no
FROM (SELECT DISTINCT batch FROM batch_spell WHERE has_length);
