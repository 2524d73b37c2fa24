-- Grain: one row per stick of the shop's own controllers: registered ones (any, where there is no register) that were not sold
-- by the end of the log.
CREATE OR REPLACE TEMP TABLE own_slot AS
SELECT slot.*
FROM slot CROSS JOIN history_setting AS setting
WHERE coalesce(slot.last_sold_day > setting.log_end_day, true)
    AND (slot.is_registered OR NOT EXISTS (SELECT 1 FROM unit));
