-- purpose: leave out items that an earlier pass over this package has stored already
-- grain: one row an item
DELETE FROM items WHERE row IN (SELECT row FROM own_rows WHERE package = $package)
