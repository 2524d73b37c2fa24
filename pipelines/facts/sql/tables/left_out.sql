-- Grain: one row per kind of row that no answer can use, with how many there are.
CREATE OR REPLACE TABLE left_out AS
SELECT 'intake_untested' AS kind, (SELECT count(*) FROM walk WHERE is_intake_untested) + (
    SELECT count(*) FROM visit WHERE slot_no IS NULL AND is_intake AND is_untested AND clean_count > 0
) AS row_count
UNION ALL
SELECT 'found_bad_at_intake', count(*) FROM walk WHERE is_found_bad_at_intake
UNION ALL
SELECT 'found_bad_at_first_sight', count(*) FROM walk WHERE is_first_sight_failure
UNION ALL
SELECT 'no_outcome', (SELECT count(*) FROM walk WHERE is_attempt AND is_last_clean_passed IS NULL) + (
    SELECT count(*) FROM visit
    WHERE slot_no IS NULL AND clean_count > 0 AND (is_bad OR is_assumed) AND is_last_clean_passed IS NULL
)
UNION ALL
SELECT 'stick_unknown', count(*) FROM visit WHERE slot_no IS NULL
UNION ALL
SELECT 'return_stick_unknown', count(DISTINCT (unit_no, sold_day)) FROM sale_follow WHERE is_stick_unknown
UNION ALL
SELECT 'unconfirmed_returns', count(*) FROM sale_follow WHERE is_unconfirmed
UNION ALL
SELECT 'assumed_failures', count(*) FROM walk WHERE is_assumed
UNION ALL
SELECT 'hours_fell', count(*) FROM reading WHERE doubt = 'hours_fell'
UNION ALL
SELECT 'hours_exceed_calendar', count(*) FROM reading WHERE doubt = 'hours_exceed_calendar';
