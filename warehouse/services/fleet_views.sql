-- purpose: rows of a fleet view, and the window they are of
-- grain: each statement stands under its name

-- name: rows
SELECT * FROM @{name} ORDER BY ALL

-- name: window
SELECT window_from() AS window_from, least(window_to(), CAST(getvariable('as_of') AS TIMESTAMPTZ)) AS window_to

-- name: sites
SELECT site FROM sites
