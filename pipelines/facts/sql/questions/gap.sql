-- Grain: one row per asked spell with length, in the order of its module's life, as ages of the module.
-- `place` numbers all spells of the module: a number left out is a spell that this clock cannot use.
-- Spells are numbered by slot and day, so in that order running values begin anew at each module.
WITH module_zero AS (
    -- known or not, a module's ages count from one point: its start, else the opening of its first spell
    SELECT
        module_life.slot_no, module_life.module_no,
        CASE WHEN $is_hours THEN module_life.is_age_known_h ELSE module_life.is_age_known_days END AS is_age_known,
        CASE
            WHEN NOT $is_hours AND first_spell.spell_no IS NOT NULL THEN greatest(
                CAST(first_spell.began_on - DATE '1970-01-01' AS DOUBLE), setting.log_start_day
            ) - module_life.entry_days
            -- its first spell lies outside the window
            WHEN NOT $is_hours AND module_life.is_age_known_days AND module.start_day IS NOT NULL THEN module.start_day
            WHEN NOT $is_hours AND module_life.entry_days > 0 THEN setting.log_start_day - module_life.entry_days
            WHEN NOT $is_hours THEN NULL
            WHEN first_zero.zero_at IS NOT NULL THEN first_zero.zero_at + first_spell.entry_h - module_life.entry_h
            WHEN module_life.is_age_known_h AND module.hours_counted_from = 'meter' THEN 0
        END AS zero_at
    FROM module_life
    JOIN module ON module.slot_no = module_life.slot_no AND module.module_no = module_life.module_no
    LEFT JOIN spell AS first_spell ON first_spell.spell_no = module_life.spell_no
    LEFT JOIN spell_zero AS first_zero ON first_zero.spell_no = module_life.spell_no
    CROSS JOIN history_setting AS setting
), module_seen AS (
    SELECT asked_spell.slot_no, asked_spell.module_no, min(spell_zero.zero_at + asked_spell.entry) AS seen_at
    FROM asked_spell JOIN spell_zero ON spell_zero.spell_no = asked_spell.spell_no
    GROUP BY asked_spell.slot_no, asked_spell.module_no
), module_origin AS (
    SELECT
        module_seen.slot_no, module_seen.module_no, coalesce(module_zero.zero_at, module_seen.seen_at) AS origin_at,
        coalesce(module_zero.is_age_known, false) AS is_age_known
    FROM module_seen
    LEFT JOIN module_zero
        ON module_zero.slot_no = module_seen.slot_no AND module_zero.module_no = module_seen.module_no
        -- dates that contradict each other tell no age; (room for rounding)
        AND module_zero.zero_at <= module_seen.seen_at + 1e-6
), clean_job AS (
    -- the last clean of each day on which a stick was cleaned; its depth is blank where nobody had tested the stick
    SELECT
        slot.slot_no, job.received_on,
        CASE WHEN bool_or(job.finding <> 'not_tested') THEN max_by(
            regexp_extract(job.action, '.*clean_([a-z]+)', 1),
            (coalesce(job.closed_on, job.received_on), length(job.job_key), job.job_key)
        ) END AS depth
    FROM job
    JOIN slot ON slot.unit_id = job.unit_id AND (slot.stick = job.stick OR job.stick = 'U')
    WHERE contains(job.action, 'clean_')
    GROUP BY slot.slot_no, job.received_on
), planned_clean AS (
    SELECT spell.spell_no, clean_job.depth, CAST(clean_job.received_on - DATE '1970-01-01' AS DOUBLE) AS day
    FROM (SELECT spell_no, slot_no, began_on FROM spell WHERE kind = 'after_preventive') AS spell
    ASOF JOIN clean_job ON clean_job.slot_no = spell.slot_no AND clean_job.received_on <= spell.began_on
), opened AS (
    SELECT
        asked_spell.spell_no, CAST(asked_spell.slot_no AS BIGINT) * 10000 + asked_spell.module_no AS module, spell.kind,
        coalesce(spell.depth, planned_clean.depth) AS depth, planned_clean.day AS clean_day,
        greatest(CAST(spell.began_on - DATE '1970-01-01' AS DOUBLE), setting.log_start_day)
            + spell.at_days - spell.entry_days AS end_day
    FROM asked_spell
    JOIN spell ON spell.spell_no = asked_spell.spell_no
    LEFT JOIN planned_clean ON planned_clean.spell_no = asked_spell.spell_no
    CROSS JOIN history_setting AS setting
), ordered AS (
    SELECT
        *,
        row_number() OVER () AS row_no,
        coalesce(module <> lag(module) OVER (), true) AS is_module_start,
        CASE WHEN lead(module) OVER () = module THEN lead(depth) OVER () END AS next_depth,
        CASE WHEN lead(module) OVER () = module THEN lead(clean_day) OVER () = end_day END AS is_cleaned_then
    FROM (SELECT * FROM opened ORDER BY spell_no)
), numbered AS (
    SELECT
        *,
        row_no + 1 - last_value(CASE WHEN is_module_start THEN row_no END IGNORE NULLS) OVER (ROWS UNBOUNDED PRECEDING)
            AS place
    FROM ordered
)
SELECT
    asked_spell.family, asked_spell.usage_class, asked_spell.site, asked_spell.stick, asked_spell.sensor_type,
    asked_spell.batch,
    numbered.module, CAST(slot.unit_no AS BIGINT) * 1000 + asked_spell.life AS cluster,
    CAST(numbered.place AS BIGINT) AS place, numbered.kind, module_origin.is_age_known,
    -- (rounded, so that a sum of ages falls neither below 0 nor short of the next one)
    CASE WHEN numbered.kind = 'first_life' THEN 0 ELSE round(spell_zero.zero_at - module_origin.origin_at, 6) END AS opened,
    round(spell_zero.zero_at - module_origin.origin_at + asked_spell.entry, 6) AS entry,
    round(spell_zero.zero_at - module_origin.origin_at + CASE WHEN is_failure THEN lower ELSE at_time END, 6) AS lower,
    CASE
        WHEN is_failure THEN round(spell_zero.zero_at - module_origin.origin_at + upper, 6)
        ELSE CAST('infinity' AS DOUBLE)
    END AS upper,
    CASE WHEN is_failure THEN 'failure' WHEN numbered.is_cleaned_then THEN 'planned_clean' ELSE 'censored' END AS ended_by,
    CASE WHEN is_failure THEN coalesce(failed_by, 'not_recorded') END AS failed_by,
    numbered.depth AS depth_before, numbered.next_depth AS depth_after
FROM asked_spell
JOIN numbered ON numbered.spell_no = asked_spell.spell_no
JOIN spell_zero ON spell_zero.spell_no = asked_spell.spell_no
JOIN slot ON slot.slot_no = asked_spell.slot_no
JOIN module_origin
    ON module_origin.slot_no = asked_spell.slot_no AND module_origin.module_no = asked_spell.module_no
WHERE asked_spell.has_length AND spell_zero.zero_at IS NOT NULL
ORDER BY asked_spell.spell_no;
