-- Grain: one row, the share of own spells with length in days that have no usable hours.
SELECT coalesce(avg(CASE WHEN has_hours THEN 0.0 ELSE 1.0 END), 1.0) FROM own_spell WHERE has_days;
