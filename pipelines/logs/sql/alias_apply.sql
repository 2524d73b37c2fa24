-- Grain: one row per cell whose word has an alias.
UPDATE {table} SET {column} = arriving.after FROM arriving WHERE arriving.before = {table}.{column}
