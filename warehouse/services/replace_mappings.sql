-- purpose: the mappings that some readings were read by
-- grain: one row a mapping version
SELECT DISTINCT mapping FROM @{readings} ORDER BY mapping
