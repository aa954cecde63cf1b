-- purpose: refused items that have not become readings since, a few of each source and reason
-- grain: one row a refused item
WITH still_open AS (
    SELECT rejects.* FROM rejects_newest AS rejects
    ANTI JOIN readings USING (package, row)
    WHERE NOT list_contains($closed::BIGINT[], package)
        AND source = coalesce($source::VARCHAR, source)
        AND reason = coalesce($reason::VARCHAR, reason)
)
SELECT * FROM still_open
QUALIFY row_number() OVER (PARTITION BY source, reason ORDER BY package, row)
    <= greatest(1, $shown // greatest(1, (SELECT count(DISTINCT (source, reason)) FROM still_open)))
ORDER BY source, reason, package, row
LIMIT $shown
