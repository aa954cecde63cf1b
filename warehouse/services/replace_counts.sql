-- purpose: of all re-placing packages, how many readings they ended and how many of them are on no machine
-- grain: one row a package
WITH ended AS (
    SELECT ended_by AS package, count(*) AS items
    FROM superseded WHERE why = 're-placed' GROUP BY ended_by
),
unplaced AS (
    SELECT waiting.ended_by AS package, count(*) AS items
    FROM waiting
    ANTI JOIN written ON written.ended_by = waiting.ended_by AND written.new_row = waiting.new_row
    GROUP BY waiting.ended_by
)
SELECT ended.package, ended.items, coalesce(unplaced.items, 0) AS unplaced
FROM ended LEFT JOIN unplaced USING (package)
ORDER BY ended.package
