-- Grain: one row per technician, site, family, work, controller, days followed and whether the stick came back, with the number
-- of jobs that put a faulty stick right. work: new_part, clean or other. Followed to the visit that found the next fault, to the
-- end of the watch, or for $horizon days, whichever is first; what came back on the day it went out counts for half a day.
WITH repair AS (
    -- the last repair of a stick on a day; numbers of jobs hold within one build only, so the day tells which opened a spell
    SELECT
        job.unit_id, job.stick, job.received_on,
        max_by(job.technician, (job.closed_on, length(job.job_key), job.job_key)) AS technician,
        max_by(job.site_id, (job.closed_on, length(job.job_key), job.job_key)) AS site,
        max_by(CASE WHEN action_kind.is_replaced THEN 'new_part' WHEN action_kind.clean_count > 0 THEN 'clean' ELSE 'other' END,
            (job.closed_on, length(job.job_key), job.job_key)) AS work
    FROM job JOIN action_kind ON action_kind.action = job.action
    WHERE action_kind.is_repair AND job.outcome IN ('pass', 'pass_with_note')
    GROUP BY job.unit_id, job.stick, job.received_on
), opened AS (
    SELECT
        slot.unit_id, slot.stick, slot.family, slot.site, spell.began_on, spell.kind, spell.generation, spell.is_failure,
        CASE WHEN spell.is_failure THEN spell.upper_days ELSE spell.at_days END - spell.entry_days AS days
    FROM spell JOIN slot ON slot.slot_no = spell.slot_no
    WHERE spell.kind IN ('after_clean', 'after_other_repair', 'first_life')
)
SELECT
    repair.technician, coalesce(repair.site, opened.site) AS site, opened.family, repair.work, opened.unit_id AS unit,
    greatest(least(opened.days, $horizon), 0.5) AS days, opened.is_failure AND opened.days <= $horizon AS is_back,
    CAST(count(*) AS BIGINT) AS job_count
FROM opened
ASOF JOIN repair
    ON repair.unit_id = opened.unit_id AND repair.stick = opened.stick AND repair.received_on <= opened.began_on
WHERE (opened.days > 0 OR opened.is_failure)
    -- what a later look or the register opened is of no repair
    AND CASE opened.kind
        WHEN 'after_clean' THEN repair.work = 'clean'
        WHEN 'first_life' THEN repair.work = 'new_part' AND opened.generation > 1
        ELSE repair.work <> 'clean'
    END
GROUP BY ALL
ORDER BY ALL;
