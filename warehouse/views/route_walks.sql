-- purpose: every walk of a route against the stops it has: what was measured, what was not and why
--          (rule W4). A machine that stood counts neither for nor against the walk.
-- grain: one row a route and walk.
-- columns: route, site, walk (from 1), started_at, ended_at (UTC), stops (of the route today),
--          measured, not_running, no_access, unsafe, no_time, meter_fault, unexplained (stops; blank
--          or not on the sheet), observed (stops with an observation), share (measured of the stops
--          that ran, 1; null where none ran), due_at (UTC; null for the first walk), days_late (d,
--          behind the window; 0 in time), in_time (null for the first walk).
-- depends: route_visits, setting
CREATE OR REPLACE VIEW route_walks AS
WITH walks AS (
    SELECT route, walk, min(visited_at) AS started_at, max(visited_at) AS ended_at
    FROM route_visits GROUP BY route, walk
),
newest AS (
    SELECT * FROM route_visits
    QUALIFY row_number() OVER (
        PARTITION BY route, walk, stop ORDER BY visited_at DESC, received_at DESC) = 1
),
counted AS (
    SELECT
        w.route, any_value(r.site) AS site, w.walk, w.started_at, w.ended_at,
        count(*) AS stops,
        count(*) FILTER (n.result = 'measured') AS measured,
        count(*) FILTER (n.result = 'not-running') AS not_running,
        count(*) FILTER (n.result = 'no-access') AS no_access,
        count(*) FILTER (n.result = 'unsafe') AS unsafe,
        count(*) FILTER (n.result = 'no-time') AS no_time,
        count(*) FILTER (n.result = 'meter-fault') AS meter_fault,
        count(*) FILTER (n.result IS NULL) AS unexplained,
        count(*) FILTER (n.observations IS NOT NULL) AS observed,
        min(r.interval_days) AS interval_days,
        min(coalesce(r.window_days, setting('walk_window_share') * r.interval_days))
            AS window_days
    FROM walks AS w
    JOIN routes AS r ON r.route = w.route
    LEFT JOIN newest AS n ON n.route = w.route AND n.walk = w.walk AND n.stop = r.stop
    GROUP BY w.route, w.walk, w.started_at, w.ended_at
),
dated AS (
    SELECT
        *,
        lag(started_at) OVER (PARTITION BY route ORDER BY walk)
            + to_seconds(86400 * interval_days) AS due_at
    FROM counted
)
SELECT
    * EXCLUDE (interval_days, window_days, due_at),
    measured / nullif(stops - not_running, 0) AS share,
    due_at,
    greatest(0, epoch(started_at - due_at) / 86400 - window_days) AS days_late,
    epoch(started_at - due_at) / 86400 <= window_days AS in_time
FROM dated;
