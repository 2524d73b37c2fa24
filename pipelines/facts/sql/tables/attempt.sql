-- Grain: one row per cleaning attempt (a clean on a failed stick), with the spell that a passed one opened.
CREATE OR REPLACE TABLE attempt AS
WITH tried AS (
    SELECT
        walk.visit_no, walk.slot_no, walk.module_no, walk.life, walk.generation, walk.attempts_before,
        walk.attempt_count, walk.is_last_clean_passed
    FROM walk WHERE walk.attempt_count > 0
    UNION ALL
    -- the stick is not known: the result of that day still counts
    SELECT
        visit_no, NULL AS slot_no, NULL AS module_no, NULL AS life, NULL AS generation, NULL AS attempts_before,
        clean_count - (is_last_clean_passed IS NULL)::INTEGER, is_last_clean_passed
    FROM visit WHERE slot_no IS NULL AND clean_count > 0 AND (is_bad OR is_assumed)
), stepped AS (
    SELECT *, unnest(generate_series(1, attempt_count)) AS step FROM tried WHERE attempt_count > 0
)
SELECT
    job.job_key,
    -- what only the job knows of a stick that has no slot
    CASE WHEN job.stick = 'U' THEN job.unit_id END AS unit_id,
    job.site_id AS site,
    CASE WHEN job.stick = 'U' THEN job.family END AS family,
    nullif(job.sensor_type, 'unknown') AS sensor_type,
    stepped.slot_no, stepped.module_no, stepped.life, stepped.generation,
    CAST(action_kind.depths[stepped.step] AS depth_word) AS depth,
    stepped.attempts_before + stepped.step AS attempt_number,
    CAST(nullif(job.failure_mechanism, 'unknown') AS mechanism_word) AS mechanism,
    job.received_on,
    coalesce(stepped.step = action_kind.clean_count AND stepped.is_last_clean_passed, false) AS is_passed,
    spell.spell_no,
    spell.at_days - spell.entry_days AS held_days,
    spell.at_h - spell.entry_h AS held_h,
    coalesce(spell.has_usable_hours, false) AS has_usable_hours,
    coalesce(spell.is_failure, false) AS has_failed_again
FROM stepped
JOIN job ON job.rowid = stepped.visit_no
JOIN action_kind ON action_kind.action = job.action
LEFT JOIN spell
    ON spell.visit_no = stepped.visit_no AND spell.kind = 'after_clean'
    AND stepped.step = action_kind.clean_count AND stepped.is_last_clean_passed;
