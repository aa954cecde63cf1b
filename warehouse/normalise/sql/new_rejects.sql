-- purpose: refused items that an earlier pass over the package has not recorded yet
-- grain: one row a refused item
SELECT found_rejects.* FROM found_rejects
ANTI JOIN known_rejects USING (package, row)
ORDER BY row
