-- purpose: entries of `superseded` whose reading does not exist
-- grain: one row an entry
SELECT package, row FROM superseded
ANTI JOIN readings USING (package, row)
ORDER BY package, row
