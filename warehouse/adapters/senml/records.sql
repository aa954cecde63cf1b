-- purpose: resolved records that carry a number, as the fields the mapping takes
-- grain: one row a record
CREATE OR REPLACE TABLE records AS
SELECT line, @{fields} FROM resolved WHERE NOT no_number ORDER BY line
