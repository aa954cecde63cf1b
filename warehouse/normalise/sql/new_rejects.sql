-- purpose: refused items that no earlier pass over the package has recorded for the same reason
-- grain: one row a refused item
SELECT found_rejects.* FROM found_rejects
ANTI JOIN known_rejects USING (package, row, reason)
ORDER BY row
