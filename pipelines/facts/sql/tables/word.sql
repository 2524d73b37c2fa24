-- Grain: none; the words by which spells are split, in their order, as types: a spell then holds a byte or two for each, and
-- counting by them costs little. A type lives on in the tables made with it. Two views read slots and modules so.
CREATE OR REPLACE TEMP TYPE family_word AS ENUM (SELECT DISTINCT family FROM slot WHERE family IS NOT NULL ORDER BY family);
CREATE OR REPLACE TEMP TYPE usage_class_word AS ENUM (
    SELECT DISTINCT usage_class FROM slot WHERE usage_class IS NOT NULL ORDER BY usage_class
);
CREATE OR REPLACE TEMP TYPE site_word AS ENUM (SELECT DISTINCT site FROM slot WHERE site IS NOT NULL ORDER BY site);
CREATE OR REPLACE TEMP TYPE stick_word AS ENUM ('L', 'R', 'S');
CREATE OR REPLACE TEMP TYPE sensor_type_word AS ENUM (
    SELECT DISTINCT sensor_type FROM module WHERE sensor_type IS NOT NULL ORDER BY sensor_type
);
CREATE OR REPLACE TEMP TYPE batch_word AS ENUM (SELECT DISTINCT batch FROM module WHERE batch IS NOT NULL ORDER BY batch);
CREATE OR REPLACE TEMP VIEW known_slot AS
SELECT
    slot_no, unit_no, in_service_day, is_registered, out_day, last_sold_day,
    CAST(family AS family_word) AS family, CAST(usage_class AS usage_class_word) AS usage_class,
    CAST(site AS site_word) AS site, CAST(stick AS stick_word) AS stick
FROM slot;
CREATE OR REPLACE TEMP VIEW known_module AS
SELECT
    slot_no, module_no, start_day, hours_counted_from, is_fitted_here, fitted_day,
    CAST(sensor_type AS sensor_type_word) AS sensor_type, CAST(batch AS batch_word) AS batch,
    CAST(batch_fitted AS batch_word) AS batch_fitted
FROM module;
