-- purpose: what changes among the rows that count
-- grain: one row
WITH counting AS (
    SELECT
        touched.package,
        before.row IS NULL AS before,
        after.row IS NULL AS after
    FROM touched
    LEFT JOIN superseded AS before USING (package, row)
    LEFT JOIN superseded_anew AS after USING (package, row)
    WHERE touched.stored
)
SELECT
    count(*) FILTER (package = $package) AS rows,
    count(*) FILTER (before AND NOT after) AS stop_counting,
    count(*) FILTER (after AND NOT before) AS count_again
FROM counting
