-- Grain: one row per spell whose times do not run forward; there must be none.
SELECT spell_no FROM spell
WHERE at_days < entry_days OR upper_days < lower_days OR upper_h < lower_h
    OR (is_failure AND (at_days > upper_days OR at_days < lower_days))
    OR is_failure <> (upper_days IS NOT NULL);
