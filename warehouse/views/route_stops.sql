-- purpose: how every stop of a route stands: when it was last measured, and whether it is overdue
--          (rule W4). A machine that stood when it was visited is told apart.
-- grain: one row a route and stop.
-- columns: route, stop, walk_order, site, asset, member, position, axis, interval_days, window_days
--          (d), visited_at, result (of the last visit), measured_at (UTC, last), due_at (UTC: an
--          interval after it was last measured, or found standing), state (never-visited, in-time,
--          due, overdue), misses (visits since then that brought no value).
-- depends: route_visits, setting
CREATE OR REPLACE VIEW route_stops AS
WITH last_good AS (
    SELECT
        route, stop,
        max(visited_at) FILTER (result = 'measured') AS measured_at,
        max(visited_at) FILTER (result IN ('measured', 'not-running')) AS good_at,
        max(visited_at) AS visited_at,
        arg_max(result, visited_at) AS result
    FROM route_visits GROUP BY route, stop
),
missed AS (
    SELECT v.route, v.stop, count(*) AS misses
    FROM route_visits AS v
    JOIN last_good AS g ON g.route = v.route AND g.stop = v.stop
    WHERE g.good_at IS NULL OR v.visited_at > g.good_at
    GROUP BY v.route, v.stop
),
dated AS (
    SELECT
        r.route, r.stop, r.walk_order, r.site, r.asset, p.member, r.position, r.axis,
        r.interval_days,
        coalesce(r.window_days, setting('walk_window_share') * r.interval_days) AS window_days,
        g.visited_at, g.result, g.measured_at,
        g.good_at + to_seconds(86400 * r.interval_days) AS due_at,
        coalesce(m.misses, 0) AS misses
    FROM routes AS r
    LEFT JOIN points AS p
        ON p.site = r.site AND p.asset = r.asset AND p.position = r.position
    LEFT JOIN last_good AS g ON g.route = r.route AND g.stop = r.stop
    LEFT JOIN missed AS m ON m.route = r.route AND m.stop = r.stop
)
SELECT
    * EXCLUDE (misses),
    CASE
        WHEN visited_at IS NULL THEN 'never-visited'
        WHEN due_at IS NULL OR due_at + to_seconds(86400 * window_days)
            < CAST(getvariable('as_of') AS TIMESTAMPTZ) THEN 'overdue'
        WHEN due_at < CAST(getvariable('as_of') AS TIMESTAMPTZ) THEN 'due'
        ELSE 'in-time'
    END AS state,
    misses
FROM dated;
