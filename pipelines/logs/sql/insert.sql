-- Grain: one row per row of the frame `arriving`.
INSERT INTO {table} ({names}) SELECT {names} FROM arriving
