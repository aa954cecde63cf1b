-- purpose: refused items that have not become readings since
-- grain: one row a refused item and reason
SELECT package, row, reason FROM rejects ANTI JOIN readings USING (package, row)
