-- Grain: one row per mapping file that files were read with.
CREATE TABLE IF NOT EXISTS mapping_file (digest VARCHAR PRIMARY KEY, content VARCHAR);
COMMENT ON COLUMN mapping_file.digest IS 'checksum of what it says; the read_with of the ledger begins with it';
COMMENT ON COLUMN mapping_file.content IS 'the file as it was written';
