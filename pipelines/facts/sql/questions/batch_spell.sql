-- Grain: one row per module of a supplier batch, from its fitting to its first failure: the spell `first_life` of a module that a job
-- of this log fitted with a batch. Filtered and on its clock as `asked_spell` is; dates are days since 1970-01-01.
-- fitting_period counts steps of `asked_period_months` months since January 1970 in which it was fitted; is_open: still watched
-- when the log was cut. Words stay numbered (ENUM) and what belongs to a batch or a day is joined by it: counting them costs little so.
CREATE OR REPLACE TEMP TABLE batch_spell AS
WITH mixed AS (
    SELECT of_spell.batch
    FROM (SELECT DISTINCT batch_fitted AS batch FROM asked_spell WHERE is_fitted_here) AS of_spell
    JOIN part_batch ON part_batch.batch_id = CAST(of_spell.batch AS VARCHAR)
    WHERE part_batch.mixed_flag
), fitting AS (
    SELECT
        fitted_day,
        CAST(floor(((year(fitted_on) - 1970) * 12 + month(fitted_on) - 1) / getvariable('asked_period_months')) AS INTEGER) AS period
    FROM (
        SELECT fitted_day, DATE '1970-01-01' + CAST(fitted_day AS INTEGER) AS fitted_on
        FROM (SELECT DISTINCT fitted_day FROM asked_spell WHERE is_fitted_here AND batch_fitted IS NOT NULL)
    )
)
SELECT
    asked_spell.spell_no, asked_spell.slot_no, asked_spell.module_no,
    CAST(asked_spell.unit_no AS BIGINT) * 1000 + asked_spell.life AS unit,
    asked_spell.batch_fitted AS batch, mixed.batch IS NOT NULL AS is_mixed,
    asked_spell.family, asked_spell.usage_class, asked_spell.site, fitting.period AS fitting_period,
    asked_spell.fitted_day, watching.entered_day, watching.entered_day + asked_spell.at_days - asked_spell.entry_days AS ended_day,
    asked_spell.at_days,
    asked_spell.is_age_known, asked_spell.has_length, asked_spell.entry, asked_spell.lower, asked_spell.upper, asked_spell.at_time,
    asked_spell.is_failure, asked_spell.failed_by,
    NOT asked_spell.is_failure AND watching.entered_day + asked_spell.at_days - asked_spell.entry_days >= setting.cut_day AS is_open
FROM asked_spell
CROSS JOIN history_setting AS setting
CROSS JOIN LATERAL (
    SELECT greatest(CAST(asked_spell.began_on - DATE '1970-01-01' AS DOUBLE), setting.log_start_day) AS entered_day
) AS watching
LEFT JOIN fitting ON fitting.fitted_day = asked_spell.fitted_day
LEFT JOIN mixed ON mixed.batch = asked_spell.batch_fitted
WHERE asked_spell.is_fitted_here AND asked_spell.batch_fitted IS NOT NULL;
