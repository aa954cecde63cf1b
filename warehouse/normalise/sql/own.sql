-- purpose: items that an earlier attempt at their package has stored already
-- grain: one row an item
CREATE OR REPLACE TABLE own AS
SELECT items.file_no, items.row
FROM items
JOIN packages USING (file_no)
JOIN own_rows ON own_rows.package = packages.package AND own_rows.row = items.row
