-- purpose: refused items that no earlier pass over the package has recorded for the same reason
-- grain: one row a refused item
-- Where some that were recorded are refused no more, the others are recorded once more, with their
-- attempt: of a package and reason those recorded last are the ones that are open.
WITH known AS (
    SELECT package, "row", reason, max(coalesce(attempt, 1)) AS attempt
    FROM known_rejects
    WHERE package IN (SELECT package FROM found_rejects)
    GROUP BY ALL
),
gone AS (
    SELECT package, reason, max(attempt) AS attempt
    FROM known
    ANTI JOIN found_rejects USING (package, "row", reason)
    GROUP BY ALL
)
SELECT found_rejects.* FROM found_rejects
LEFT JOIN known USING (package, "row", reason)
LEFT JOIN gone USING (package, reason)
WHERE known.attempt IS NULL OR known.attempt <= gone.attempt AND known.attempt < found_rejects.attempt
ORDER BY "row"
