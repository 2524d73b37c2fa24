-- Grain: one row per stratum of the spells with length: family, usage class, site and fitting period, with its number.
CREATE OR REPLACE TEMP TABLE batch_stratum AS
SELECT *, CAST(row_number() OVER () AS INTEGER) - 1 AS stratum_no
FROM (SELECT DISTINCT family, usage_class, site, fitting_period FROM batch_spell WHERE has_length);
