-- Grain: one row per unit and lot that it came in: from the day of its first job under the lot, until it comes in another.
-- Warranty work does not bring a unit in. sold_on and what follows: its first sale
-- of that time (or its withdrawal as sold, where no sale is noted); last_…: the last one, where it came back and was sold again.
CREATE OR REPLACE TEMP TABLE lot_span AS
WITH intake AS (
    SELECT
        unit_id, lot_id,
        min(received_on) AS intake_on,
        max_by(family, (received_on, length(job_key), job_key)) AS family
    FROM job CROSS JOIN history_setting AS setting
    WHERE lot_id IS NOT NULL AND visit_reason IS DISTINCT FROM 'warranty_return' AND received_on <= setting.log_end
    GROUP BY unit_id, lot_id
), span AS (
    SELECT
        *,
        row_number() OVER () AS span_no,
        lead(intake_on) OVER (PARTITION BY unit_id ORDER BY intake_on, lot_id) AS next_intake_on
    FROM intake
), told AS (
    SELECT
        unit_id, sold_on, price, grade, warranty_days,
        CASE WHEN returned_on <= setting.log_end THEN returned_on END AS returned_on,
        CASE WHEN returned_on <= setting.log_end THEN coalesce(return_reason, 'unknown') END AS return_reason
    FROM sale CROSS JOIN history_setting AS setting
    WHERE sold_on <= setting.log_end
    UNION ALL
    SELECT unit_id, out_of_service_on, NULL, NULL, NULL, NULL, NULL
    FROM unit CROSS JOIN history_setting AS setting
    WHERE out_reason = 'sold' AND out_of_service_on <= setting.log_end
        AND NOT EXISTS (SELECT 1 FROM sale WHERE sale.unit_id = unit.unit_id)
), sold AS (
    SELECT
        span.span_no,
        min(sold_on) AS sold_on,
        arg_min_null(price, sold_on) AS price,
        arg_min_null(grade, sold_on) AS grade,
        arg_min_null(warranty_days, sold_on) AS warranty_days,
        arg_min_null(returned_on, sold_on) AS returned_on,
        arg_min_null(return_reason, sold_on) AS return_reason,
        arg_max_null(price, sold_on) AS last_price,
        arg_max_null(returned_on, sold_on) AS last_returned_on
    FROM span JOIN told
        ON told.unit_id = span.unit_id AND told.sold_on >= span.intake_on
        AND (span.next_intake_on IS NULL OR told.sold_on < span.next_intake_on)
    GROUP BY span.span_no
)
SELECT
    span.span_no,
    span.unit_id,
    span.lot_id,
    coalesce(unit.family, span.family) AS family,
    span.intake_on,
    span.next_intake_on,
    -- withdrawn as scrapped before any sale
    CASE
        WHEN unit.out_reason = 'scrapped'
            AND unit.out_of_service_on BETWEEN span.intake_on AND setting.log_end
            AND (span.next_intake_on IS NULL OR unit.out_of_service_on < span.next_intake_on)
            AND (sold.sold_on IS NULL OR unit.out_of_service_on < sold.sold_on)
            THEN unit.out_of_service_on
    END AS withdrawn_on,
    sold.* EXCLUDE (span_no)
FROM span
CROSS JOIN history_setting AS setting
LEFT JOIN sold ON sold.span_no = span.span_no
LEFT JOIN unit ON unit.unit_id = span.unit_id;
