-- purpose: rows that stop counting by this commit: stored ones and ones of the package itself
-- grain: one row a reading that stops counting
WITH kept AS (
    SELECT items.row FROM items
    LEFT JOIN fates USING (row)
    WHERE items.fault IS NULL
        AND items.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
        AND dropped IS NOT TRUE
),
ended AS (
    SELECT $package::BIGINT AS package, row, $package::BIGINT AS ended_by FROM repeats
    SEMI JOIN kept USING (row) WHERE overruled
    UNION ALL
    SELECT stored_package, stored_row, $package FROM matches SEMI JOIN kept USING (row)
    WHERE outcome = 'revised' AND wins
    UNION ALL
    SELECT $package, row, stored_package FROM matches SEMI JOIN kept USING (row)
    WHERE outcome = 'revised' AND NOT wins
)
SELECT package::BIGINT AS package, row::BIGINT AS row, min(ended_by)::BIGINT AS ended_by,
    'revision' AS why, $recorded_at::TIMESTAMPTZ AS recorded_at
FROM ended
GROUP BY package, row
ORDER BY package, row
