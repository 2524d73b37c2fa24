-- Grain: one row per spell that begins before the spell before it on the same stick has ended; there must be none.
SELECT spell_no
FROM (
    SELECT
        spell_no, began_on,
        lag(began_on + CAST(floor(at_days - entry_days) AS INTEGER)) OVER (PARTITION BY slot_no ORDER BY spell_no) AS ended_on
    FROM spell
)
WHERE began_on < ended_on;
