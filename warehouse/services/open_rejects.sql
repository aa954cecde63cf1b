-- purpose: refused items that are still open, a few of each source and reason
-- grain: one row a refused item
-- A stop's result has the row of its first value: a reading there does not settle `bad-code`, which
-- no value is refused for, and a stop result settles a stop that was not registered.
WITH still_open AS (
    SELECT rejects.* FROM rejects_newest AS rejects
    ANTI JOIN readings AS taken ON taken.package = rejects.package AND taken.row = rejects.row
        AND rejects.reason <> 'bad-code'
    ANTI JOIN stop_results AS told ON told.package = rejects.package AND told.row = rejects.row
        AND rejects.reason = 'unknown-stop'
    WHERE NOT list_contains($closed::BIGINT[], package)
        AND source = coalesce($source::VARCHAR, source)
        AND reason = coalesce($reason::VARCHAR, reason)
)
SELECT * FROM still_open
QUALIFY row_number() OVER (PARTITION BY source, reason ORDER BY package, row)
    <= greatest(1, $shown // greatest(1, (SELECT count(DISTINCT (source, reason)) FROM still_open)))
ORDER BY source, reason, package, row
LIMIT $shown
