-- Grain: one row, the file behind this connection.
SELECT path FROM duckdb_databases() WHERE database_name = current_database();
