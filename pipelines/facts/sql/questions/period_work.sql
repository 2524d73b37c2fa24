-- Grain: one row per own controller and period (begins, ends] of days since 1970-01-01 ($begins, $ends) in which it came to the
-- bench: sticks worked on, modules and sensors fitted, minutes, parts and supplies, and of how many jobs each is known.
-- A blank price of work is nothing spent, unless a part was fitted; then it is not known, as a part for 0 is not.
WITH period AS (
    SELECT unnest(range(len($begins))) AS period_no, unnest($begins) AS begins, unnest($ends) AS ends
), known AS (
    SELECT unit_id, any_value(unit_no) AS unit_no, any_value(site) AS site FROM own_spell GROUP BY unit_id
)
SELECT
    known.unit_no, known.site, CAST(period.period_no AS BIGINT) AS period_no,
    CAST(count(*) AS BIGINT) AS job_count,
    CAST(count(*) FILTER (WHERE action_kind.is_replaced) AS BIGINT) AS module_count,
    CAST(count(job.bench_minutes) AS BIGINT) AS timed_count, coalesce(sum(job.bench_minutes), 0) AS minutes,
    CAST(count(*) FILTER (WHERE action_kind.is_replaced AND coalesce(job.parts_cost, 0) > 0) AS BIGINT) AS costed_count,
    coalesce(sum(job.parts_cost), 0) + coalesce(sum(job.consumables_cost), 0) AS parts_cost
FROM job
JOIN known ON known.unit_id = job.unit_id
JOIN action_kind ON action_kind.action = job.action
JOIN period ON unix_date(job.received_on) > period.begins AND unix_date(job.received_on) <= period.ends
GROUP BY known.unit_no, known.site, period.period_no
ORDER BY known.unit_no, period.period_no;
