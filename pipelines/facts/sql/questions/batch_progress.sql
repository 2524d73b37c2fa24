-- Grain: one row per batch and look in which a module of it went into service or was found failed: how many of each, and the
-- first day in service. Looks are steps of $look_days from the start of the log; nothing found after the end of watching is known.
WITH dated AS (
    SELECT
        spell.batch, spell.supplier, spell.part_type, spell.is_mixed,
        spell.entered_day - spell.entry AS fitted_day, setting.log_start_day,
        CASE
            WHEN spell.is_failure AND spell.entered_day + spell.upper - spell.entry <= setting.cut_day
                THEN spell.entered_day + spell.upper - spell.entry
        END AS found_day
    FROM batch_spell AS spell CROSS JOIN history_setting AS setting
    WHERE spell.has_length OR spell.is_open
), noted AS (
    SELECT
        batch, supplier, part_type, is_mixed, fitted_day, 1 AS fitted, 0 AS found,
        floor((fitted_day - log_start_day) / $look_days) AS look
    FROM dated
    UNION ALL
    SELECT batch, supplier, part_type, is_mixed, NULL, 0, 1, floor((found_day - log_start_day) / $look_days)
    FROM dated WHERE found_day IS NOT NULL
)
SELECT
    batch, supplier, part_type, is_mixed, CAST(greatest(look, 0) AS INTEGER) AS look,
    CAST(sum(fitted) AS BIGINT) AS fitted_count, CAST(sum(found) AS BIGINT) AS found_count,
    DATE '1970-01-01' + CAST(min(fitted_day) AS INTEGER) AS first_fitted_on
FROM noted
GROUP BY ALL
ORDER BY batch, look;
