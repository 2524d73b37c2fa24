-- Grain: none; two words that another engine has and DuckDB lacks, so that every other file reads the same on both.
CREATE OR REPLACE TEMP MACRO unix_date(on_date) AS CAST(CAST(on_date AS DATE) - DATE '1970-01-01' AS INTEGER);
CREATE OR REPLACE TEMP MACRO date_from_unix_date(day) AS DATE '1970-01-01' + CAST(day AS INTEGER);
