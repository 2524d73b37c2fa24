-- Grain: one row per stick of a controller (a slot, into which modules are fitted one after another).
-- Slots come from the register, also for units never seen at the bench, and from the jobs.
CREATE OR REPLACE TABLE slot AS
WITH job_unit AS (
    SELECT
        unit_id,
        max_by(family, (received_on, job_key)) AS family,
        max_by(nullif(usage_class, 'unknown'), (received_on, job_key))
            FILTER (WHERE nullif(usage_class, 'unknown') IS NOT NULL) AS usage_class,
        min_by(nullif(sensor_type, 'unknown'), (received_on, job_key))
            FILTER (WHERE nullif(sensor_type, 'unknown') IS NOT NULL) AS sensor_type,
        max_by(site_id, (received_on, job_key)) FILTER (WHERE site_id IS NOT NULL) AS site
    FROM job
    -- the register knows better; jobs only fill what it leaves open
    WHERE NOT EXISTS (
        SELECT 1 FROM unit
        WHERE unit.unit_id = job.unit_id AND nullif(unit.usage_class, 'unknown') IS NOT NULL
            AND nullif(unit.sensor_type, 'unknown') IS NOT NULL AND unit.site_id IS NOT NULL
    )
    GROUP BY unit_id
), unit_known AS (
    SELECT
        coalesce(unit.unit_id, job_unit.unit_id) AS unit_id,
        unit.unit_id IS NOT NULL AS is_registered,
        coalesce(unit.family, job_unit.family) AS family,
        coalesce(nullif(unit.usage_class, 'unknown'), job_unit.usage_class) AS usage_class,
        coalesce(nullif(unit.sensor_type, 'unknown'), job_unit.sensor_type) AS sensor_type,
        coalesce(unit.site_id, job_unit.site) AS site,
        unix_date(unit.in_service_on) AS in_service_day,
        -- a unit sold with a sale of its own leaves by that sale, which may begin a warranty
        CASE
            WHEN unit.out_reason = 'sold' AND EXISTS (SELECT 1 FROM sale WHERE sale.unit_id = unit.unit_id) THEN NULL
            ELSE unix_date(unit.out_of_service_on)
        END AS out_day,
        unit.new_or_used,
        unit.sticks
    FROM unit FULL JOIN job_unit ON unit.unit_id = job_unit.unit_id
), numbered AS (
    SELECT *, (row_number() OVER ())::INTEGER AS unit_no FROM unit_known
), named AS (
    SELECT unit.unit_id, written.stick
    FROM unit JOIN (
        -- (few ways to write them)
        SELECT sticks, unnest(list_transform(string_split_regex(sticks, '[+,; ]+'), lambda part: upper(trim(part)))) AS stick
        FROM (SELECT DISTINCT sticks FROM unit)
    ) AS written ON written.sticks = unit.sticks
    UNION
    SELECT DISTINCT unit_id, stick FROM job CROSS JOIN history_setting AS setting
    WHERE stick <> 'U' AND received_on <= setting.log_end
)
SELECT
    (row_number() OVER ())::INTEGER AS slot_no,
    numbered.unit_no,
    numbered.unit_id,
    named.stick,
    numbered.is_registered,
    numbered.family,
    numbered.usage_class,
    numbered.sensor_type,
    numbered.site,
    numbered.in_service_day,
    numbered.out_day,
    numbered.new_or_used,
    last_sale.sold_day AS last_sold_day
FROM named JOIN numbered ON named.unit_id = numbered.unit_id
LEFT JOIN (SELECT unit_id, max(unix_date(sold_on)) AS sold_day FROM sale GROUP BY unit_id) AS last_sale
    ON last_sale.unit_id = numbered.unit_id
WHERE named.stick IN ('L', 'R', 'S');
