-- Grain: one row, the file behind this connection; of histories rebuilt in memory, the file beside them.
SELECT coalesce(
    max(path) FILTER (WHERE database_name = current_database()), max(path) FILTER (WHERE database_name = 'fleet')
)
FROM duckdb_databases();
