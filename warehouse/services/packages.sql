-- purpose: refused items as the server tells them
-- grain: each statement stands under its name

-- name: rejects
WITH newest AS (
    SELECT * FROM rejects
    WHERE ($package::BIGINT IS NULL OR package = $package)
        AND NOT list_contains($closed::BIGINT[], package)
        AND ($sources::VARCHAR[] IS NULL OR list_contains($sources::VARCHAR[], source))
    -- a stop's result is an item of its own on the row of its first value, as in `rejects_newest`
    QUALIFY row_number() OVER (
        PARTITION BY package, "row", reason = 'bad-code' AND coalesce(device, channel) IS NOT NULL
        ORDER BY coalesce(attempt, 1) DESC) = 1
)
SELECT package, "row", source, file, line, column_name, reason, detail, raw, device, channel, ts_text, received_at
FROM newest
ANTI JOIN (
    SELECT package, "row" FROM readings WHERE $package::BIGINT IS NULL OR package = $package
) AS taken ON taken.package = newest.package AND taken."row" = newest."row" AND newest.reason <> 'bad-code'
ANTI JOIN stop_results AS told
    ON told.package = newest.package AND told."row" = newest."row" AND newest.reason = 'unknown-stop'
WHERE $reason::VARCHAR IS NULL OR reason = $reason
ORDER BY package, "row", reason
LIMIT $most
