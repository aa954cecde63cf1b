-- purpose: stop results to be stored, in the columns of `stop_results`
-- grain: one row a visit that says something else than what was known of it
-- A row is a copy where it says the same as the newest one before it of the same visit. Rows of the
-- packages themselves, stored by an attempt that was stopped, are not stored again.
WITH others AS (
    SELECT route, stop, visited_at::TIMESTAMP AS visited_at, digest, received_at, package, row
    FROM stored_stops
    WHERE package NOT IN (SELECT package FROM packages)
    UNION ALL
    SELECT route, stop, visited_at, digest, received_at::TIMESTAMPTZ, package, row
    FROM stop_items
    WHERE stands
),
before AS (
    SELECT
        package, row,
        digest = lag(digest) OVER (
            PARTITION BY route, stop, visited_at ORDER BY received_at, package, row) AS copy
    FROM others
)
SELECT
    $source AS source, i.route, i.stop, i.visited_at::TIMESTAMPTZ AS visited_at, i.result,
    i.observations, i.note, i.person, i.device, i.site, i.asset, i.position, i.axis, i.digest,
    i.package, i.row, $mapping AS mapping, i.received_at::TIMESTAMPTZ AS received_at
FROM stop_items AS i
JOIN before AS b ON b.package = i.package AND b.row = i.row
ANTI JOIN stored_stops AS s ON s.package = i.package AND s.row = i.row
WHERE i.stands AND NOT coalesce(b.copy, false)
ORDER BY i.route, i.visited_at, i.stop
