-- Grain: one row: how many lines replaced an earlier version.
SELECT count(DISTINCT line) FROM known_before WHERE NOT is_same
