-- Grain: one row per thing that happened to a slot, in order: registration, job, sale, return, withdrawal, scrap.
-- `rank` orders what happened on one day; event_no is that order as one number.
CREATE OR REPLACE TEMP TABLE event AS
WITH start_seen AS (
    -- without a register, a job may tell when a new module went into service
    SELECT slot_no, min(unit_no) AS unit_no, min(in_service_since_day) AS start_day
    FROM visit
    WHERE life_known_from = 'new' AND in_service_since_day IS NOT NULL AND slot_no IS NOT NULL
        AND NOT EXISTS (SELECT 1 FROM unit)
    GROUP BY slot_no
), scrapping AS (
    SELECT DISTINCT unit_no, visit_day FROM visit WHERE is_scrapped AND slot_no IS NOT NULL
), stream AS (
    SELECT slot_no, unit_no, in_service_day AS event_day, 0 AS rank, 'registration' AS kind,
        NULL AS job_key, NULL::INTEGER AS closed_day, coalesce(new_or_used = 'new', false) AS is_new,
        NULL::INTEGER AS follow_day, false AS is_return_failure
    FROM slot WHERE is_registered
    UNION ALL BY NAME
    SELECT slot_no, unit_no, start_day AS event_day, 0 AS rank, 'registration' AS kind, true AS is_new FROM start_seen
    UNION ALL BY NAME
    SELECT slot_no, unit_no, returned_day AS event_day, 1 AS rank, 'return' AS kind,
        is_confirmed OR is_unconfirmed AS is_return_failure
    FROM sale_follow WHERE returned_day IS NOT NULL
    UNION ALL BY NAME
    SELECT slot_no, unit_no, visit_day AS event_day, 2 AS rank, 'job' AS kind, job_key, closed_day
    FROM visit WHERE slot_no IS NOT NULL
    UNION ALL BY NAME
    SELECT slot_no, unit_no, sold_day AS event_day, 3 AS rank, 'sale' AS kind, follow_day FROM sale_follow
    UNION ALL BY NAME
    SELECT slot_no, unit_no, out_day AS event_day, 4 AS rank, 'out' AS kind FROM slot WHERE out_day IS NOT NULL
    UNION ALL BY NAME
    SELECT slot.slot_no, slot.unit_no, scrapping.visit_day AS event_day, 5 AS rank, 'unit_scrap' AS kind
    FROM scrapping JOIN slot ON slot.unit_no = scrapping.unit_no
)
SELECT
    row_number() OVER (ORDER BY slot_no, event_day, rank, closed_day NULLS FIRST, length(job_key), job_key)
        AS event_no,
    slot_no, unit_no, event_day, kind, job_key, coalesce(is_new, false) AS is_new, follow_day,
    coalesce(is_return_failure, false) AS is_return_failure
FROM stream;
