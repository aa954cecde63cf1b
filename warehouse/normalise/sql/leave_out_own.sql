-- purpose: leave out items that are stored already
-- grain: one row an item
DELETE FROM items USING own WHERE own.file_no = items.file_no AND own.row = items.row
