-- Grain: one row per spell (an interval in which a module was at risk of drift), with its ages on both clocks.
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
    usable.spell_no, usable.slot_no, usable.life, usable.generation, usable.module_no,
    CAST(usable.kind AS VARCHAR) AS kind, usable.visit_no,
    CASE WHEN usable.kind = 'after_clean' THEN opener.last_depth END AS depth,
    CASE WHEN usable.kind = 'after_clean' THEN opener.mechanism END AS mechanism,
    usable.attempt_number,
    date_from_unix_date(CAST(usable.opened_day AS INTEGER)) AS began_on,
    usable.is_age_known_days, usable.is_age_known_h,
    usable.entry_days, usable.lower_days, usable.upper_days, usable.at_days,
    usable.has_usable_hours,
    CASE WHEN has_usable_hours THEN entry_h END AS entry_h,
    CASE WHEN has_usable_hours THEN least(lower_h, coalesce(upper_h, lower_h)) END AS lower_h,
    CASE WHEN has_usable_hours THEN upper_h END AS upper_h,
    CASE WHEN has_usable_hours THEN at_h END AS at_h,
    usable.is_failure, usable.is_failure AND usable.is_assumed AS is_assumed,
    CASE WHEN usable.is_failure THEN closing.mechanism END AS failed_by,
    CASE WHEN usable.is_failure THEN 'failure' ELSE coalesce(CAST(usable.closed_by AS VARCHAR), 'open') END AS ended_by
FROM usable
LEFT JOIN (
    SELECT visit_no, depths[visit.clean_count] AS last_depth, mechanism
    FROM visit JOIN action_kind ON action_kind.action_no = visit.action_no
    WHERE visit.clean_count > 0
) AS opener ON opener.visit_no = usable.visit_no
LEFT JOIN (SELECT visit_no, mechanism FROM visit WHERE mechanism IS NOT NULL) AS closing
    ON closing.visit_no = usable.closing_visit_no;
