-- Grain: one row per file and load, in the order in which they were read; of a workbook all its sheets together.
-- mapping: digest of the mapping file it was read with, or null. as_of: the last day on which the load would have refused the same
-- dates as lying ahead, two days before the first of them; null: it refused none.
SELECT
    ledger.load_id, ledger.file, ledger.sha256, string_agg(DISTINCT ledger.table_name, ' ' ORDER BY ledger.table_name) AS tables,
    CAST(sum(ledger.lines_read) AS BIGINT) AS lines_read, CAST(sum(ledger.loaded) AS BIGINT) AS loaded,
    CAST(sum(ledger.set_aside) AS BIGINT) AS set_aside, CAST(sum(ledger.repeated) AS BIGINT) AS repeated,
    CAST(sum(ledger.replaced) AS BIGINT) AS replaced, CAST(sum(ledger.blank + ledger.not_data) AS BIGINT) AS not_data,
    any_value(mapping_file.digest) AS mapping,
    CAST(CAST(min(ahead.first_on) - INTERVAL 2 DAY AS DATE) AS VARCHAR) AS as_of
FROM ledger
LEFT JOIN mapping_file ON starts_with(ledger.read_with, mapping_file.digest)
LEFT JOIN (
    SELECT load_id, min(TRY_CAST(regexp_extract(reason, '(\d{4}-\d{2}-\d{2}) is in the future', 1) AS DATE)) AS first_on
    FROM set_aside GROUP BY load_id
) AS ahead ON ahead.load_id = ledger.load_id
GROUP BY ledger.load_id, ledger.file, ledger.sha256
ORDER BY min(ledger.file_id);
