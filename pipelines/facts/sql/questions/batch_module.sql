-- Grain: one row per module that is, or may be, of the batch $batch, and per module without a batch on record that was fitted while the
-- batch was in stock; fitted by the end of the log.
-- hold: fitted (written when it was fitted), found (when it came to the bench, nothing at its fitting), and of those that may be of it:
-- contradicted (written as another at the other time), two_named (its label names several batches), spelt_alike (a code that differs in
-- capitals, blanks or signs), mixed (of another batch of its part type whose bins were mixed too, fitted while it was in stock);
-- unrecorded: no batch written, of the same sensor type. The stock ends with the last one fitted where as many were fitted as came.
-- state: what became of it by the end of the log, the last first: replaced, scrapped, sold, …; not_in_service: fitted, never put to use.
CREATE OR REPLACE TEMP TABLE batch_module AS
WITH own AS (
    SELECT
        min(fitted_day) AS first_day, max(fitted_day) AS last_day, count(*) AS fitted_count, mode(sensor_type) AS sensor_type
    FROM module WHERE batch_fitted = $batch
), target AS (
    SELECT
        least(coalesce(unix_date(part_batch.received_on), own.first_day), coalesce(own.first_day, unix_date(part_batch.received_on)))
            AS from_day,
        CASE WHEN own.fitted_count >= part_batch.qty THEN own.last_day ELSE setting.log_end_day END AS to_day,
        coalesce(nullif(part_batch.sensor_type, 'unknown'), own.sensor_type) AS sensor_type, part_batch.part_type,
        coalesce(part_batch.mixed_flag, false) AS is_mixed,
        plain_code($batch) AS plain, setting.log_start_day, setting.log_end_day
    FROM own
    CROSS JOIN history_setting AS setting
    LEFT JOIN part_batch ON part_batch.batch_id = $batch
), named AS (
    SELECT
        module.slot_no, module.module_no, module.is_fitted_here, module.batch_fitted, module.batch_found, module.fitted_day,
        module.sensor_type, target.log_start_day, target.log_end_day,
        coalesce(module.batch_fitted, module.batch_found, module.batches_named) AS label,
        list_transform(
            list_filter([module.batch_fitted, module.batch_found], lambda word: word IS NOT NULL AND word <> $batch),
            lambda word: plain_code(word)
        ) AS other_words,
        list_transform(string_split_regex(module.batches_named, '[/+,;&|]'), lambda word: plain_code(word)) AS parts_of_label,
        target.plain,
        module.fitted_day BETWEEN target.from_day AND target.to_day AS is_in_stock_time,
        target.is_mixed AND coalesce(other.mixed_flag, false) AND other.part_type = target.part_type AS is_mixed_with,
        target.sensor_type IS NULL OR module.sensor_type IS NULL OR module.sensor_type = target.sensor_type AS is_same_sensor
    FROM module
    CROSS JOIN target
    LEFT JOIN part_batch AS other ON other.batch_id = module.batch_fitted
    WHERE coalesce(module.fitted_day <= target.log_end_day, true)
), held AS (
    SELECT
        *,
        CASE
            WHEN batch_fitted = $batch THEN CASE WHEN coalesce(batch_found <> $batch, false) THEN 'contradicted' ELSE 'fitted' END
            WHEN batch_found = $batch THEN CASE WHEN batch_fitted IS NULL THEN 'found' ELSE 'contradicted' END
            WHEN list_contains(parts_of_label, plain) THEN 'two_named'
            WHEN plain <> '' AND list_contains(other_words, plain) THEN 'spelt_alike'
            WHEN is_mixed_with AND is_in_stock_time THEN 'mixed'
            WHEN label IS NULL AND is_fitted_here AND is_in_stock_time AND is_same_sensor THEN 'unrecorded'
        END AS hold
    FROM named
), latest AS (
    SELECT slot_no, max(module_no) AS module_no FROM module GROUP BY slot_no
), sold AS (
    SELECT
        unit_id, max(unix_date(sold_on)) AS sold_day,
        max_by(unix_date(sold_on) + coalesce(warranty_days, 0), sold_on) AS warranty_day,
        max_by(coalesce(returned_on <= setting.log_end, false), sold_on) AS is_returned
    FROM sale CROSS JOIN history_setting AS setting
    WHERE sold_on <= setting.log_end
    GROUP BY unit_id
), scrapping AS (
    SELECT unit_id, max(unix_date(received_on)) AS scrapped_day
    FROM job CROSS JOIN history_setting AS setting
    WHERE received_on <= setting.log_end AND (outcome = 'scrapped' OR contains(action, 'scrap'))
    GROUP BY unit_id
), watched AS (
    SELECT
        spell.slot_no, spell.module_no, arg_max(spell.ended_by, spell.spell_no) AS ended_by,
        CAST(count(*) FILTER (WHERE spell.is_failure) AS BIGINT) AS failure_count,
        min(greatest(unix_date(spell.began_on), setting.log_start_day) + spell.upper_days - spell.entry_days)
            FILTER (WHERE spell.is_failure) AS failed_day
    FROM spell CROSS JOIN history_setting AS setting
    GROUP BY spell.slot_no, spell.module_no
), hours AS (
    SELECT slot_no, module_no, max(exit_h) AS age_h FROM module_life WHERE is_age_known_h GROUP BY slot_no, module_no
), placed AS (
    SELECT
        held.hold, held.label, slot.unit_id, slot.stick, slot.family, slot.site, stay.station, held.fitted_day, held.sensor_type,
        watched.failed_day, coalesce(watched.failure_count, 0) AS failure_count,
        next.fitted_day AS until_day,
        coalesce(next.fitted_day, held.log_end_day) - held.fitted_day AS age_days, hours.age_h,
        CASE
            WHEN held.module_no < latest.module_no THEN CASE WHEN next.is_fitted_here THEN 'replaced' ELSE 'scrapped' END
            WHEN scrapping.scrapped_day >= coalesce(held.fitted_day, 0) THEN 'scrapped'
            WHEN sold.sold_day >= coalesce(held.fitted_day, 0) AND NOT sold.is_returned
                THEN CASE WHEN sold.warranty_day > held.log_end_day THEN 'sold_in_warranty' ELSE 'sold' END
            WHEN slot.out_day <= held.log_end_day THEN coalesce(unit.out_reason, 'stored')
            WHEN sold.sold_day >= coalesce(held.fitted_day, 0) THEN 'returned'
            WHEN watched.ended_by = 'failure' THEN 'failed'
            WHEN watched.ended_by = 'open' THEN 'in_service'
            ELSE 'not_in_service'
        END AS state,
        CASE WHEN sold.warranty_day > held.log_end_day AND sold.sold_day >= coalesce(held.fitted_day, 0) THEN sold.warranty_day END
            AS warranty_day
    FROM held
    JOIN slot ON slot.slot_no = held.slot_no
    JOIN latest ON latest.slot_no = held.slot_no
    LEFT JOIN module AS next ON next.slot_no = held.slot_no AND next.module_no = held.module_no + 1
    LEFT JOIN unit ON unit.unit_id = slot.unit_id
    LEFT JOIN sold ON sold.unit_id = slot.unit_id
    LEFT JOIN scrapping ON scrapping.unit_id = slot.unit_id
    LEFT JOIN seat_stay AS stay ON stay.unit_id = slot.unit_id AND stay.from_day <= 0 AND stay.to_day > 0
    LEFT JOIN watched ON watched.slot_no = held.slot_no AND watched.module_no = held.module_no
    LEFT JOIN hours ON hours.slot_no = held.slot_no AND hours.module_no = held.module_no
    WHERE held.hold IS NOT NULL
)
SELECT
    * EXCLUDE (station, age_days), CASE WHEN state IN ('in_service', 'failed') THEN station END AS station,
    CASE WHEN state IN ('in_service', 'failed', 'replaced') THEN age_days END AS age_days
FROM placed;
