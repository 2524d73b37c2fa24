-- Grain: one row per job, with its slot (NULL where the stick cannot be told) and what the job says, each rule once.
-- What a job merely words (site, batch, sensor) is read from `job` by its number where it is needed.
CREATE OR REPLACE TEMP TABLE visit AS
WITH basis AS (
    -- a column that the export does not have at all is taken as metered
    SELECT count(usage_basis) = 0 AS is_metered FROM job
), unit_slot AS (
    -- one row per unit: the slot of each stick, and the only slot where there is one
    SELECT
        unit_id, min(unit_no) AS unit_no, bool_or(is_registered) AS is_registered,
        bool_or(is_registered AND coalesce(new_or_used = 'new', false)) AS is_start_recorded,
        min(slot_no) FILTER (WHERE stick = 'L') AS left_no,
        min(slot_no) FILTER (WHERE stick = 'R') AS right_no,
        min(slot_no) FILTER (WHERE stick = 'S') AS single_no,
        CASE WHEN count(*) = 1 THEN min(slot_no) END AS only_no
    FROM slot GROUP BY unit_id
), done AS (
    SELECT *, CAST(depths[clean_count] AS depth_word) AS last_depth FROM action_kind
), judged AS (
    SELECT
        job.*,
        job.rowid AS visit_no,
        verdict_of(outcome, al_rest_offset_pct, al_jitter_pct, al_return_spread_pct, al_reach_pct, limits) AS verdict
    FROM job CROSS JOIN history_setting AS limits
    WHERE received_on <= limits.log_end
), worded AS (
    SELECT
        judged.visit_no,
        judged.job_key,
        CASE judged.stick
            WHEN 'L' THEN left_no WHEN 'R' THEN right_no WHEN 'S' THEN single_no WHEN 'U' THEN only_no
        END AS slot_no,
        unit_slot.unit_no,
        coalesce(unit_slot.is_registered, false) AS is_registered,
        coalesce(unit_slot.is_start_recorded, false) AS is_start_recorded,
        unix_date(received_on) AS visit_day,
        -- back in service, when the unit is not sold first
        greatest(
            unix_date(received_on), unix_date(coalesce(returned_to_service_on, closed_on, received_on))
        ) AS back_day,
        unix_date(coalesce(closed_on, received_on)) AS closed_day,
        coalesce(visit_reason, 'unknown') AS reason,
        nullif(finding, 'not_tested') AS tested,
        coalesce(finding = 'no_fault_found', false) AS is_nff,
        coalesce(failure_mode IN ('click_fault', 'mechanical'), false)
            OR coalesce(failure_mechanism IN ('software', 'impact'), false) AS is_other_fault,
        verdict,
        verdict IN ('pass', 'pass_with_note') AS is_passed,
        coalesce(finding = 'not_tested', false)
            AND coalesce(al_rest_offset_pct, al_jitter_pct, al_return_spread_pct, al_reach_pct) IS NULL
            AS is_unseen,
        CAST(nullif(failure_mechanism, 'unknown') AS mechanism_word) AS mechanism,
        CASE WHEN basis.is_metered OR usage_basis IN ('metered', 'sessions') THEN usage_hours END AS usage_hours,
        returned_to_service_on IS NOT NULL OR coalesce(disposition = 'service', false) AS is_served,
        coalesce(disposition IN ('harvest', 'scrap', 'to_supplier', 'hold'), false) AS is_leaving,
        -- on the shelf until it is sold
        coalesce(disposition LIKE 'grade_%', false) OR coalesce(visit_reason = 'lot_intake', false) AS is_stock,
        judged.lot_id IS NOT NULL AS is_of_lot,
        CASE WHEN NOT coalesce(unit_slot.is_registered, false) THEN nullif(warranty_days, 0) END AS warranty_days,
        CASE WHEN life_known_from = 'new' THEN unix_date(in_service_since) END AS new_since_day,
        done.clean_count,
        done.last_depth,
        done.is_repair,
        done.is_last_clean_given_up,
        done.is_scrapped OR verdict = 'scrapped' AS is_scrapped,
        done.is_replaced OR (done.is_board_replaced AND part_batch_fitted IS NOT NULL) AS is_replacing
    FROM judged
    CROSS JOIN basis
    LEFT JOIN unit_slot ON unit_slot.unit_id = judged.unit_id
    JOIN done ON done.action = judged.action
)
SELECT
    * EXCLUDE (is_replacing, is_unseen, is_other_fault, verdict, is_last_clean_given_up, reason, tested),
    tested IS NULL AS is_untested,
    reason = 'warranty_return' AS is_warranty_return,
    is_replacing AND NOT is_scrapped AS is_replacing,
    tested IN ('fault_confirmed', 'intermittent') AND tested IS NOT NULL AND NOT is_other_fault AS is_bad,
    tested IS NULL AND is_repair AND NOT is_other_fault
        AND reason IN ('fault_report', 'warranty_return', 'unknown') AS is_assumed,
    reason IN ('lot_intake', 'incoming_inspection') AS is_intake,
    reason NOT IN ('lot_intake', 'incoming_inspection', 'check', 'preventive') AS is_reported,
    is_nff OR (is_passed AND NOT is_unseen) AS is_good_sight,
    -- the last clean of the job: passed, failed, or NULL where its result is not known
    CASE
        WHEN is_last_clean_given_up OR verdict IN ('fail', 'scrapped') THEN false
        WHEN is_passed THEN true
    END AS is_last_clean_passed
FROM worded;
