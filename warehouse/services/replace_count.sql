-- purpose: how many rows of a table meet a condition
-- grain: one row
SELECT count(*) FROM @{name} WHERE @{condition}
