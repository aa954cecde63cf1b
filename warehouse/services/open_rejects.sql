-- purpose: refused items that are still open: the one place that says so, for all who list them
-- grain: one row a refused item; each statement stands under its name

-- The ledger counts what is open of each package and reason (`open_counts`): nothing of a package
-- that was withdrawn, or taken in again by a mended mapping, and no item that a replay found to be
-- known. Of the rows kept, those that count are the ones recorded last.
-- A stop's result has the row of its first value: a reading there does not settle `bad-code`, which
-- no value is refused for, and a stop result settles a stop that was not registered.
-- name: open_items
CREATE OR REPLACE TEMPORARY TABLE open_items AS
WITH newest AS (
    SELECT rejects_newest.*, open_counts.items AS still_open
    FROM rejects_newest
    JOIN open_counts USING (package, reason)
    WHERE $package::BIGINT IS NULL OR package = $package
),
not_taken AS (
    SELECT newest.* FROM newest
    ANTI JOIN (
        SELECT package, "row" FROM readings WHERE $package::BIGINT IS NULL OR package = $package
    ) AS taken ON taken.package = newest.package AND taken."row" = newest."row" AND newest.reason <> 'bad-code'
    ANTI JOIN stop_results AS told
        ON told.package = newest.package AND told."row" = newest."row" AND newest.reason = 'unknown-stop'
)
SELECT * EXCLUDE (still_open) FROM not_taken
QUALIFY row_number() OVER (PARTITION BY package, reason ORDER BY coalesce(attempt, 1) DESC, "row") <= still_open

-- a few of each source and reason: the rarest is seen too
-- name: few_of_each
WITH chosen AS (
    SELECT * FROM open_items
    WHERE source = coalesce($source::VARCHAR, source) AND reason = coalesce($reason::VARCHAR, reason)
)
SELECT * FROM chosen
QUALIFY row_number() OVER (PARTITION BY source, reason ORDER BY package, "row")
    <= greatest(1, $most // greatest(1, (SELECT count(DISTINCT (source, reason)) FROM chosen)))
ORDER BY source, reason, package, "row"
LIMIT $most

-- name: first
SELECT package, "row", source, file, line, column_name, reason, detail, raw, device, channel, ts_text, received_at
FROM open_items
WHERE ($sources::VARCHAR[] IS NULL OR list_contains($sources::VARCHAR[], source))
    AND ($reason::VARCHAR IS NULL OR reason = $reason)
ORDER BY package, "row", reason
LIMIT $most
