-- purpose: rows that stop counting by this commit: stored ones and ones of its own packages
-- grain: one row a reading that stops counting
WITH ended AS (
    SELECT package, row, ended_by FROM repeats WHERE ended_by IS NOT NULL
    UNION ALL
    SELECT stored_package, stored_row, package FROM matches WHERE outcome = 'revised' AND wins
    UNION ALL
    SELECT package, row, stored_package FROM matches WHERE outcome = 'revised' AND NOT wins
)
SELECT package::BIGINT AS package, row::BIGINT AS row, max(ended_by)::BIGINT AS ended_by,
    'revision' AS why, $recorded_at::TIMESTAMPTZ AS recorded_at
FROM ended
GROUP BY package, row
ORDER BY package, row
