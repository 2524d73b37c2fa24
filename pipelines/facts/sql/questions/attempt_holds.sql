-- Grain: one row, whether a grouping column of the attempts has a value.
SELECT EXISTS (
    SELECT 1 FROM described_attempt
    WHERE CASE $grouping
        WHEN 'family' THEN family
        WHEN 'usage_class' THEN usage_class
        WHEN 'site' THEN site
        WHEN 'stick' THEN stick
        WHEN 'sensor_type' THEN sensor_type
        WHEN 'batch' THEN batch
        WHEN 'depth' THEN depth
        WHEN 'mechanism' THEN mechanism
        WHEN 'attempt_number' THEN CAST(attempt_number AS VARCHAR)
    END = $value
);
