-- Grain: each table says its own.

-- one row per file and sheet and load; loaded + set_aside + repeated + blank + not_data = lines_read
CREATE TABLE ledger (
    load_id INTEGER, loaded_at TIMESTAMP, file_id INTEGER, file VARCHAR, sheet VARCHAR, sha256 VARCHAR, read_with VARCHAR,
    table_name VARCHAR, encoding VARCHAR, delimiter VARCHAR, decimal_mark VARCHAR, date_order VARCHAR,
    lines_read BIGINT, loaded BIGINT, set_aside BIGINT, repeated BIGINT, replaced BIGINT, blank BIGINT, not_data BIGINT,
    cells_blanked BIGINT, not_understood VARCHAR, missing_wanted VARCHAR
);
COMMENT ON COLUMN ledger.load_id IS 'number of the load, from 1';
COMMENT ON COLUMN ledger.loaded_at IS 'when it was loaded, local time';
COMMENT ON COLUMN ledger.file_id IS 'number of the file and sheet in this load; the rows it gave carry it';
COMMENT ON COLUMN ledger.file IS 'file as named in the reports';
COMMENT ON COLUMN ledger.sheet IS 'sheet of a workbook, blank for other files';
COMMENT ON COLUMN ledger.sha256 IS 'checksum of the file''s bytes';
COMMENT ON COLUMN ledger.read_with IS 'checksum of the mapping and the word aliases it was read with';
COMMENT ON COLUMN ledger.table_name IS 'table of the contract that it was taken for';
COMMENT ON COLUMN ledger.encoding IS 'how its letters are written';
COMMENT ON COLUMN ledger.delimiter IS 'what stands between its cells';
COMMENT ON COLUMN ledger.decimal_mark IS 'point or comma';
COMMENT ON COLUMN ledger.date_order IS 'how it writes dates such as 03/04/2026';
COMMENT ON COLUMN ledger.lines_read IS 'lines of the file, or rows of the sheet [count]';
COMMENT ON COLUMN ledger.loaded IS 'lines whose row is in the warehouse after this file was read [count]';
COMMENT ON COLUMN ledger.set_aside IS 'lines that could not be used, listed in set_aside [count]';
COMMENT ON COLUMN ledger.repeated IS 'lines that were there already, word for word [count]';
COMMENT ON COLUMN ledger.replaced IS 'of the loaded lines, those that replaced an earlier version [count]';
COMMENT ON COLUMN ledger.blank IS 'blank lines [count]';
COMMENT ON COLUMN ledger.not_data IS 'title, heading, units and total lines, and further lines of a cell [count]';
COMMENT ON COLUMN ledger.cells_blanked IS 'cells left blank in loaded rows, listed in set_aside [count]';
COMMENT ON COLUMN ledger.not_understood IS 'headings that are no column of the contract, joined by |';
COMMENT ON COLUMN ledger.missing_wanted IS 'strongly wanted columns that the file does not have, joined by |';

-- one row per line set aside or cell blanked
CREATE TABLE set_aside (
    load_id INTEGER, file_id INTEGER, file VARCHAR, sheet VARCHAR, line BIGINT, column_name VARCHAR, value VARCHAR,
    reason VARCHAR, remedy VARCHAR, is_row BOOLEAN
);
COMMENT ON COLUMN set_aside.load_id IS 'number of the load';
COMMENT ON COLUMN set_aside.file_id IS 'number of the file and sheet, see ledger';
COMMENT ON COLUMN set_aside.file IS 'file as named in the reports';
COMMENT ON COLUMN set_aside.sheet IS 'sheet of a workbook, blank for other files';
COMMENT ON COLUMN set_aside.line IS 'line of the file, or row of the sheet';
COMMENT ON COLUMN set_aside.column_name IS 'column at fault, blank where it is the whole line';
COMMENT ON COLUMN set_aside.value IS 'what stands in the file';
COMMENT ON COLUMN set_aside.reason IS 'why it cannot be used';
COMMENT ON COLUMN set_aside.remedy IS 'what to do about it';
COMMENT ON COLUMN set_aside.is_row IS 'true: the whole row was set aside; false: only this cell was left blank';

-- one row per heading that was understood
CREATE TABLE loaded_column (
    file_id INTEGER, header VARCHAR, table_name VARCHAR, column_name VARCHAR, currency VARCHAR, currency_line VARCHAR
);
COMMENT ON COLUMN loaded_column.file_id IS 'number of the file and sheet, see ledger';
COMMENT ON COLUMN loaded_column.header IS 'heading in the file';
COMMENT ON COLUMN loaded_column.table_name IS 'table of the contract';
COMMENT ON COLUMN loaded_column.column_name IS 'column of the contract';
COMMENT ON COLUMN loaded_column.currency IS 'currency signs and codes written in its cells or heading, joined by |';
COMMENT ON COLUMN loaded_column.currency_line IS 'lines on which these first stand, joined by |';

-- one row per version of a job that a later file replaced
CREATE TABLE replaced_job (
    load_id INTEGER, job_key VARCHAR, old_file_id INTEGER, old_line BIGINT, new_file_id INTEGER, new_line BIGINT,
    content VARCHAR
);
COMMENT ON COLUMN replaced_job.load_id IS 'number of the load that replaced it';
COMMENT ON COLUMN replaced_job.job_key IS 'the job, as in job';
COMMENT ON COLUMN replaced_job.old_file_id IS 'file and sheet of the replaced version, see ledger';
COMMENT ON COLUMN replaced_job.old_line IS 'its line there';
COMMENT ON COLUMN replaced_job.new_file_id IS 'file and sheet of the new version, see ledger';
COMMENT ON COLUMN replaced_job.new_line IS 'its line there';
COMMENT ON COLUMN replaced_job.content IS 'the replaced version as JSON';

-- one row per cell in which an alias stands in place of the word in the file
CREATE TABLE alias_word (table_name VARCHAR, column_name VARCHAR, file_id INTEGER, line BIGINT, before VARCHAR);
COMMENT ON COLUMN alias_word.table_name IS 'table of the warehouse';
COMMENT ON COLUMN alias_word.column_name IS 'its column';
COMMENT ON COLUMN alias_word.file_id IS 'file and sheet, see ledger';
COMMENT ON COLUMN alias_word.line IS 'line there';
COMMENT ON COLUMN alias_word.before IS 'the word in the file';
