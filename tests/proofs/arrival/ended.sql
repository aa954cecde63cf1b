-- purpose: what no longer counts
-- grain: one row an entry, one an ended reading
SELECT package, row FROM superseded
