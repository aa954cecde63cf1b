-- purpose: the same of packages that nobody attempted before: there are none
-- grain: one row an item
CREATE OR REPLACE TABLE own AS
SELECT file_no, row FROM items LIMIT 0
