-- purpose: leave out items that an earlier pass over their package has stored already
-- grain: one row an item
DELETE FROM items
USING packages, own_rows
WHERE packages.file_no = items.file_no
    AND own_rows.package = packages.package
    AND own_rows.row = items.row
