-- Grain: none; two words that another engine has and DuckDB lacks, so that every other file reads the same on both,
-- two lists of words that the big tables between hold as a byte each, and rules that several files need.
CREATE OR REPLACE TEMP MACRO unix_date(on_date) AS CAST(CAST(on_date AS DATE) - DATE '1970-01-01' AS INTEGER);
CREATE OR REPLACE TEMP MACRO date_from_unix_date(day) AS DATE '1970-01-01' + CAST(day AS INTEGER);
CREATE OR REPLACE TEMP MACRO event_kind(word) AS
    CAST(word AS ENUM ('registration', 'job', 'sale', 'return', 'out', 'unit_scrap'));
CREATE OR REPLACE TEMP MACRO spell_kind(word) AS
    CAST(word AS ENUM ('first_life', 'after_clean', 'after_other_repair', 'after_preventive', 'closed', 'none'));
-- codes of batches that differ only in capitals, blanks or signs are alike in this
CREATE OR REPLACE TEMP MACRO plain_code(code) AS lower(regexp_replace(code, '[^\p{L}\p{N}]', '', 'g'));
-- a pass limit that the user set overrules the word of the bench
CREATE OR REPLACE TEMP MACRO verdict_of(outcome, rest_offset, jitter, return_spread, reach, limits) AS
    CASE
        WHEN outcome <> 'scrapped' AND (
            rest_offset > limits.pass_max_rest_offset_pct
            OR jitter > limits.pass_max_jitter_pct
            OR return_spread > limits.pass_max_return_spread_pct
            OR reach < limits.pass_min_reach_pct
        ) THEN 'fail'
        ELSE outcome
    END;
