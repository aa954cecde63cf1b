-- purpose: a stop measured twice on one walk is a new take, and the last counts (rule R4)
-- grain: one row an item
CREATE OR REPLACE TABLE items AS
SELECT * REPLACE (
    CASE WHEN fault IS NULL
         THEN row_number() OVER (PARTITION BY file_no, identity_no, ts, fault IS NULL ORDER BY row) - 1
         ELSE 0 END::INTEGER AS take
)
FROM items
