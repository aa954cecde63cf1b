-- purpose: rows that stop counting by this commit: stored ones and ones of its own packages
-- grain: one row a reading that stops counting
WITH kept AS (
    SELECT items.file_no, items.row, packages.package
    FROM items
    JOIN packages USING (file_no)
    LEFT JOIN fates USING (file_no, row)
    WHERE items.fault IS NULL
        AND items.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
        AND dropped IS NOT TRUE
),
ended AS (
    SELECT kept.package, kept.row, repeats.ended_by
    FROM repeats
    JOIN kept USING (file_no, row)
    WHERE repeats.ended_by IS NOT NULL
    UNION ALL
    SELECT matches.stored_package, matches.stored_row, matches.package
    FROM matches
    SEMI JOIN kept USING (file_no, row)
    WHERE outcome = 'revised' AND wins
    UNION ALL
    SELECT kept.package, kept.row, matches.stored_package
    FROM matches
    JOIN kept USING (file_no, row)
    WHERE outcome = 'revised' AND NOT wins
)
SELECT package::BIGINT AS package, row::BIGINT AS row, max(ended_by)::BIGINT AS ended_by,
    'revision' AS why, $recorded_at::TIMESTAMPTZ AS recorded_at
FROM ended
GROUP BY package, row
ORDER BY package, row
