-- Grain: one row per limit set, measure and family (null: all): the limit in force at the end of the limits table.
SELECT limit_set, measure, family, arg_max(pass_max, valid_from) AS pass_max, arg_max(pass_min, valid_from) AS pass_min
FROM limit_row
GROUP BY limit_set, measure, family
ORDER BY limit_set, measure, family;
