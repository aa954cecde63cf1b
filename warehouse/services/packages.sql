-- purpose: refused items as the server tells them
-- grain: each statement stands under its name

-- name: rejects
WITH newest AS (
    SELECT * FROM rejects
    WHERE ($package::BIGINT IS NULL OR package = $package)
        AND NOT list_contains($closed::BIGINT[], package)
        AND ($sources::VARCHAR[] IS NULL OR list_contains($sources::VARCHAR[], source))
    QUALIFY row_number() OVER (PARTITION BY package, "row" ORDER BY coalesce(attempt, 1) DESC) = 1
)
SELECT package, "row", source, file, line, column_name, reason, detail, raw, device, channel, ts_text, received_at
FROM newest
ANTI JOIN (
    SELECT package, "row" FROM readings WHERE $package::BIGINT IS NULL OR package = $package
) AS taken USING (package, "row")
WHERE $reason::VARCHAR IS NULL OR reason = $reason
ORDER BY package, "row"
LIMIT $most
