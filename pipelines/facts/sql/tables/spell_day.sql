-- Grain: one row per spell inside the log's window: its days, cut by the quiet lag and the end of follow-up.
-- Days are numbers since 1970-01-01; lower and upper bound a failure that nobody saw happen.
CREATE OR REPLACE TEMP TABLE spell_day AS
WITH bounded AS (
    SELECT
        span.* EXCLUDE (opened_day),
        CAST(span.opened_day AS DOUBLE) AS opened_day,
        greatest(CAST(span.opened_day AS DOUBLE), setting.log_start_day) AS entry_day,
        CAST(closed_day AS DOUBLE) AS upper_day,
        CASE WHEN is_exact THEN CAST(closed_day AS DOUBLE) ELSE least(CAST(closed_day AS DOUBLE), greatest(
            CAST(span.opened_day AS DOUBLE), setting.log_start_day,
            coalesce(CAST(good_sight_day AS DOUBLE), -1e9),
            CASE WHEN is_reported THEN closed_day - setting.notice_days ELSE -1e9 END
        )) END AS lower_day,
        setting.cut_day,
        least(setting.cut_day, coalesce(CAST(follow_day AS DOUBLE), 1e9)) AS limit_day,
        module.start_day,
        module.hours_counted_from,
        module.is_fitted_here, module.fitted_day, module.sensor_type, module.batch, module.batch_fitted,
        CASE
            WHEN span.kind <> 'first_life' OR NOT span.is_first_sight THEN CAST(span.opened_day AS DOUBLE)
            WHEN module.start_day <= span.opened_day THEN CAST(module.start_day AS DOUBLE)
        END AS origin_day
    FROM span
    JOIN known_module AS module ON module.slot_no = span.slot_no AND module.module_no = span.module_no
    CROSS JOIN history_setting AS setting
)
SELECT
    spell_no, slot_no, unit_no, is_registered, family, usage_class, site, stick, sensor_type, batch, batch_fitted, is_fitted_here,
    fitted_day, life, generation, module_no, kind, visit_no, is_first_sight, is_new_module, attempt_number,
    opened_day, opened_reading_day, entry_day, lower_day, upper_day, origin_day, start_day, hours_counted_from,
    depth, mechanism, closed_by, failed_by, is_assumed,
    kind = 'first_life' AND NOT is_first_sight AND NOT is_new_module AS is_from_registration,
    is_seen_failed AS is_failure,
    CASE
        WHEN is_seen_failed THEN (lower_day + upper_day) / 2
        ELSE least(coalesce(upper_day, 1e9), limit_day)
    END AS end_day
FROM (
    -- a failure with its midpoint after the cut, or found after the end of the follow-up, is not seen
    SELECT
        *,
        is_failed AND (lower_day + upper_day) / 2 <= cut_day AND upper_day <= coalesce(CAST(follow_day AS DOUBLE), 1e9)
            AS is_seen_failed
    FROM bounded
)
WHERE entry_day <= limit_day AND coalesce(upper_day, 1e9) >= entry_day;
