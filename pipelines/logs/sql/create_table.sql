-- Grain: one row per thing of the contract's table, as the exports last told it.
CREATE TABLE {table} ({made})
