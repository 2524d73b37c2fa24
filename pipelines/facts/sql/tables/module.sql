-- Grain: one row per module (slot, life and generation): where its age is counted from, and its batch and sensor.
CREATE OR REPLACE TABLE module AS
-- A label that names several batches (two codes or more between signs, one of them a batch of its own, and no delivery by that name)
-- tells of none which the module is of: it stands in batches_named, not among the batches.
WITH word AS (
    SELECT part_batch_fitted AS label FROM job WHERE part_batch_fitted IS NOT NULL
    UNION
    SELECT part_batch_found FROM job WHERE part_batch_found IS NOT NULL
), code AS (
    SELECT plain_code(label) AS plain FROM word
    UNION
    SELECT plain_code(batch_id) FROM part_batch
), part AS (
    SELECT label, plain_code(unnest(string_split_regex(label, '[/+,;&|]'))) AS plain
    FROM word
    WHERE regexp_matches(label, '[/+,;&|]') AND NOT EXISTS (FROM part_batch WHERE part_batch.batch_id = label)
), several AS (
    SELECT part.label
    FROM part LEFT JOIN code ON code.plain = part.plain
    WHERE part.plain <> ''
    GROUP BY part.label
    HAVING count(*) > 1 AND count(code.plain) > 0
), used_by AS (
    SELECT
        slot_no, module_no, min(life) AS life, min(generation) AS generation,
        bool_or(kind = 'registration') AS is_registered_life
    FROM walk GROUP BY slot_no, module_no
), fitting AS (
    -- the job that fitted it is the last one of the module before
    SELECT
        walk.slot_no, walk.module_no + 1 AS module_no, walk.visit_no, walk.event_day,
        CASE WHEN several.label IS NULL THEN job.part_batch_fitted END AS part_batch_fitted, several.label AS batches_named
    FROM walk
    JOIN job ON job.rowid = walk.visit_no
    LEFT JOIN several ON several.label = job.part_batch_fitted
    WHERE walk.is_replacing
), seen AS (
    SELECT
        walk.slot_no, walk.module_no,
        unix_date(min(job.in_service_since)) AS since_day,
        coalesce(bool_or(job.life_known_from = 'previous_replacement'), false) AS is_known_from_replacement,
        coalesce(bool_or(job.life_known_from IN ('new', 'bought_used')), false) AS is_known_from_meter,
        min_by(job.part_batch_found, job.received_on) FILTER (WHERE job.part_batch_found IS NOT NULL AND several.label IS NULL)
            AS batch_found,
        min_by(several.label, job.received_on) FILTER (WHERE several.label IS NOT NULL) AS batches_named,
        min_by(job.sensor_type, job.received_on) FILTER (WHERE job.sensor_type <> 'unknown') AS sensor_seen
    FROM walk
    JOIN job ON job.rowid = walk.visit_no
    LEFT JOIN several ON several.label = job.part_batch_found
    WHERE walk.kind = 'job'
    GROUP BY walk.slot_no, walk.module_no
)
SELECT
    slot_no,
    module_no,
    fitting.visit_no IS NOT NULL AS is_fitted_here,
    coalesce(fitting.part_batch_fitted, seen.batch_found) AS batch,
    fitting.part_batch_fitted AS batch_fitted,
    seen.batch_found,
    coalesce(fitting.batches_named, seen.batches_named) AS batches_named,
    fitting.event_day AS fitted_day,
    coalesce(
        nullif(part_batch.sensor_type, 'unknown'),
        CASE WHEN fitting.visit_no IS NOT NULL THEN seen.sensor_seen END,
        slot.sensor_type,
        seen.sensor_seen
    ) AS sensor_type,
    -- an original module: the day it went into service, and whether the unit's meter is its own
    CASE
        WHEN fitting.visit_no IS NOT NULL OR used_by.generation > 1 THEN NULL
        WHEN slot.new_or_used = 'new' AND used_by.is_registered_life THEN slot.in_service_day
        WHEN used_by.life > 0 OR slot.new_or_used = 'refurbished' THEN NULL
        ELSE seen.since_day
    END AS start_day,
    CASE
        WHEN fitting.visit_no IS NOT NULL OR used_by.generation > 1 THEN NULL
        WHEN slot.new_or_used = 'new' AND used_by.is_registered_life THEN 'meter'
        WHEN used_by.life > 0 OR slot.new_or_used = 'refurbished' THEN NULL
        WHEN seen.is_known_from_replacement THEN CASE WHEN seen.since_day IS NOT NULL THEN 'start_day' END
        WHEN slot.new_or_used = 'used' OR seen.is_known_from_meter THEN 'meter'
    END AS hours_counted_from
FROM used_by
FULL JOIN fitting USING (slot_no, module_no)
JOIN slot USING (slot_no)
LEFT JOIN seen USING (slot_no, module_no)
LEFT JOIN part_batch ON part_batch.batch_id = coalesce(fitting.part_batch_fitted, seen.batch_found);
