-- Grain: one row per module of a supplier batch, from its fitting to its first failure: the spell `first_life` of a module that a job
-- of this log fitted with a batch. Filtered and on its clock as `asked_spell` is; dates are days since 1970-01-01.
-- fitting_period counts steps of `asked_period_months` months since January 1970 in which it was fitted; is_open: still watched
-- when the log was cut.
CREATE OR REPLACE TEMP TABLE batch_spell AS
SELECT
    asked_spell.spell_no, asked_spell.slot_no, asked_spell.module_no,
    CAST(asked_spell.unit_no AS BIGINT) * 1000 + asked_spell.life AS unit,
    CAST(asked_spell.batch_fitted AS VARCHAR) AS batch, part_batch.supplier, part_batch.part_type,
    CAST(asked_spell.sensor_type AS VARCHAR) AS sensor_type,
    part_batch.batch_id IS NOT NULL AS is_on_record, coalesce(part_batch.mixed_flag, false) AS is_mixed,
    CAST(asked_spell.family AS VARCHAR) AS family, CAST(asked_spell.usage_class AS VARCHAR) AS usage_class,
    CAST(asked_spell.site AS VARCHAR) AS site,
    CAST(floor(((year(fitted.fitted_on) - 1970) * 12 + month(fitted.fitted_on) - 1) / getvariable('asked_period_months')) AS INTEGER)
        AS fitting_period,
    asked_spell.fitted_day, fitted.entered_day, fitted.entered_day + asked_spell.at_days - asked_spell.entry_days AS ended_day,
    asked_spell.at_days - asked_spell.entry_days AS watched_days, asked_spell.at_days,
    asked_spell.is_age_known, asked_spell.has_length, asked_spell.entry, asked_spell.lower, asked_spell.upper, asked_spell.at_time,
    asked_spell.is_failure, CAST(asked_spell.failed_by AS VARCHAR) AS failed_by,
    NOT asked_spell.is_failure AND fitted.entered_day + asked_spell.at_days - asked_spell.entry_days >= setting.cut_day AS is_open
FROM asked_spell
CROSS JOIN history_setting AS setting
CROSS JOIN LATERAL (
    SELECT
        DATE '1970-01-01' + CAST(asked_spell.fitted_day AS INTEGER) AS fitted_on,
        greatest(CAST(asked_spell.began_on - DATE '1970-01-01' AS DOUBLE), setting.log_start_day) AS entered_day
) AS fitted
LEFT JOIN part_batch ON part_batch.batch_id = asked_spell.batch_fitted
WHERE asked_spell.is_fitted_here AND asked_spell.batch_fitted IS NOT NULL;
