-- Grain: one row per job of a unit while it belongs to a lot, with what it says of the unit's fate.
-- is_before_sale: work that settles the fate; that of a warranty, or for a later owner, does not.
CREATE OR REPLACE TEMP TABLE lot_job AS
WITH told AS (
    SELECT
        lot_span.span_no, lot_span.intake_on, lot_span.sold_on, lot_span.withdrawn_on,
        job.received_on, coalesce(job.closed_on, job.received_on) AS closed_on, job.job_key, job.stick, job.disposition,
        job.bench_minutes, job.parts_cost, job.consumables_cost,
        coalesce(job.visit_reason = 'warranty_return', false) AS is_warranty,
        coalesce(job.finding = 'no_fault_found', false) AS is_nff,
        verdict_of(
            job.outcome, job.al_rest_offset_pct, job.al_jitter_pct, job.al_return_spread_pct, job.al_reach_pct, setting
        ) AS verdict,
        action_kind.is_repair,
        action_kind.is_scrapped,
        action_kind.clean_count > 0 AS is_cleaned,
        contains(job.action, 'replace_sensor') AS is_sensor_fitted,
        contains(job.action, 'replace_module') AS is_module_fitted,
        action_kind.is_board_replaced AS is_board_fitted
    FROM lot_span
    CROSS JOIN history_setting AS setting
    JOIN job
        ON job.unit_id = lot_span.unit_id AND job.received_on >= lot_span.intake_on
        AND (lot_span.next_intake_on IS NULL OR job.received_on < lot_span.next_intake_on)
        AND job.received_on <= setting.log_end
    JOIN action_kind ON action_kind.action = job.action
), claimed AS (
    -- a claim tells of a sale, noted or not
    SELECT span_no, min(received_on) AS claim_on FROM told WHERE is_warranty AND received_on > intake_on GROUP BY span_no
), judged AS (
    SELECT
        told.* EXCLUDE (is_scrapped, withdrawn_on),
        claimed.claim_on,
        CASE WHEN claim_on IS NULL OR withdrawn_on < claim_on THEN withdrawn_on END AS withdrawn_on,
        NOT is_warranty
            AND (sold_on IS NULL OR received_on <= sold_on)
            AND (claim_on IS NULL OR received_on < claim_on) AS is_before_sale,
        is_scrapped OR verdict = 'scrapped' OR coalesce(disposition IN ('scrap', 'harvest'), false) AS is_scrapped
    FROM told LEFT JOIN claimed ON claimed.span_no = told.span_no
), scrapping AS (
    SELECT span_no, min(received_on) AS scrapped_on FROM judged WHERE is_before_sale AND is_scrapped GROUP BY span_no
)
SELECT
    judged.* EXCLUDE (intake_on, sold_on, is_nff, verdict, is_repair),
    is_sensor_fitted OR is_module_fitted OR is_board_fitted AS is_part_fitted,
    -- blowing out a stick that works is no repair
    is_repair AND NOT is_nff AS is_mended,
    coalesce(
        (verdict IN ('pass', 'pass_with_note') OR (is_nff AND verdict IN ('unknown', 'returned_unrepaired')))
        AND coalesce(disposition NOT IN ('hold', 'to_supplier'), true), false
    ) AS is_ready
FROM judged LEFT JOIN scrapping ON scrapping.span_no = judged.span_no
-- what comes after a scrap is another controller with the same tag
WHERE coalesce(received_on <= least(scrapping.scrapped_on, withdrawn_on), true);
