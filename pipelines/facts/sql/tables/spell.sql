-- Grain: one row per spell (an interval in which a module was at risk of drift), with its ages on both clocks and what is
-- known of its controller and module.
CREATE OR REPLACE TABLE spell AS
WITH hourly AS (
    SELECT
        spell_day.*,
        CASE WHEN is_from_registration THEN 0 ELSE point.opened_h END AS opened_h,
        CASE
            WHEN entry_day > opened_day THEN point.entered_h
            WHEN is_from_registration THEN 0
            ELSE point.opened_h
        END AS entered_h,
        CASE
            WHEN is_from_registration OR (hours_counted_from = 'meter' AND kind = 'first_life' AND NOT is_new_module) THEN 0
            WHEN kind <> 'first_life' OR NOT is_first_sight THEN point.opened_h
            WHEN hours_counted_from = 'start_day' AND start_day <= opened_day THEN point.started_h
        END AS origin_h,
        CASE
            WHEN NOT is_failure THEN NULL
            WHEN lower_day <= entry_day AND entry_day > opened_day THEN point.entered_h
            WHEN lower_day <= entry_day AND is_from_registration THEN 0
            WHEN lower_day <= entry_day THEN point.opened_h
            WHEN lower_day = upper_day THEN point.ended_h
            ELSE point.lower_h
        END AS failed_after_h,
        CASE WHEN is_failure THEN point.ended_h END AS failed_by_h,
        CASE WHEN NOT is_failure THEN point.ended_h END AS left_h
    FROM spell_day LEFT JOIN hour_point AS point ON point.spell_no = spell_day.spell_no
), aged AS (
    SELECT
        *,
        kind <> 'first_life' OR origin_day IS NOT NULL AS is_age_known_days,
        kind <> 'first_life' OR origin_h IS NOT NULL OR is_new_module OR NOT is_first_sight AS is_age_known_h,
        coalesce(origin_day, opened_day) AS day_zero,
        coalesce(origin_h, opened_h) AS hour_zero
    FROM hourly
), clocked AS (
    SELECT
        *,
        entry_day - day_zero AS entry_days,
        CASE WHEN is_failure THEN lower_day ELSE end_day END - day_zero AS lower_days,
        CASE WHEN is_failure THEN upper_day - day_zero END AS upper_days,
        end_day - day_zero AS at_days,
        entered_h - hour_zero AS entry_h,
        CASE WHEN is_failure THEN greatest(failed_after_h, entered_h) ELSE left_h END - hour_zero AS lower_h,
        CASE WHEN is_failure THEN failed_by_h - hour_zero END AS upper_h
    FROM aged
), usable AS (
    SELECT
        *,
        entry_h IS NOT NULL AND lower_h IS NOT NULL AND (NOT is_failure OR upper_h IS NOT NULL) AS has_usable_hours,
        CASE WHEN is_failure THEN (least(lower_h, upper_h) + upper_h) / 2 ELSE lower_h END AS at_h
    FROM clocked
)
SELECT
    spell_no, slot_no, unit_no, life, generation, module_no,
    family, usage_class, site, stick, is_registered,
    sensor_type, batch, batch_fitted, is_fitted_here, fitted_day,
    CAST(kind AS VARCHAR) AS kind, visit_no,
    depth, mechanism, attempt_number,
    date_from_unix_date(CAST(opened_day AS INTEGER)) AS began_on,
    is_age_known_days, is_age_known_h,
    entry_days, lower_days, upper_days, at_days,
    has_usable_hours,
    CASE WHEN has_usable_hours THEN entry_h END AS entry_h,
    CASE WHEN has_usable_hours THEN least(lower_h, coalesce(upper_h, lower_h)) END AS lower_h,
    CASE WHEN has_usable_hours THEN upper_h END AS upper_h,
    CASE WHEN has_usable_hours THEN at_h END AS at_h,
    is_failure, is_failure AND is_assumed AS is_assumed,
    CASE WHEN is_failure THEN failed_by END AS failed_by,
    CASE WHEN is_failure THEN 'failure' ELSE coalesce(CAST(closed_by AS VARCHAR), 'open') END AS ended_by
FROM usable;
