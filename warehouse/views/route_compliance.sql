-- purpose: how well a route was walked within the window asked for, else the last
--          `route_compliance_days` (rule W4): what was measured of the stops that ran, what is
--          unexplained, walks in time, stops overdue now.
-- grain: one row a route that has a stop at a train the fleet views are about.
-- columns: route, site, stops, interval_days (d), walks, walks_expected (whole intervals since the
--          window, or the first walk, began), walks_late, planned (stops of the walks), measured,
--          not_running (apart), missed (no access, unsafe, no time, meter fault), unexplained, share
--          (measured of planned less not running, 1; null where none ran), last_walk_at, due_at
--          (UTC), stops_overdue, stops_never (never visited), state (never-walked, in-time, due,
--          overdue: of the next walk).
-- depends: route_walks, route_stops, fleet_assets, window_to, setting
CREATE OR REPLACE VIEW route_compliance AS
WITH windowed AS (
    SELECT *, coalesce(
        CAST(getvariable('fleet_from') AS TIMESTAMPTZ),
        window_to() - to_seconds(86400 * setting('route_compliance_days'))) AS counted_since
    FROM route_walks
    WHERE started_at < window_to()
),
summed AS (
    SELECT
        route,
        count(*) FILTER (started_at >= counted_since) AS walks,
        count(*) FILTER (started_at >= counted_since AND NOT in_time) AS walks_late,
        coalesce(sum(stops) FILTER (started_at >= counted_since), 0)::BIGINT AS planned,
        coalesce(sum(measured) FILTER (started_at >= counted_since), 0)::BIGINT AS measured,
        coalesce(sum(not_running) FILTER (started_at >= counted_since), 0)::BIGINT AS not_running,
        coalesce(sum(no_access + unsafe + no_time + meter_fault)
            FILTER (started_at >= counted_since), 0)::BIGINT AS missed,
        coalesce(sum(unexplained) FILTER (started_at >= counted_since), 0)::BIGINT AS unexplained,
        max(started_at) AS last_walk_at,
        greatest(min(started_at), any_value(counted_since)) AS counted_from
    FROM windowed
    GROUP BY route
),
listed AS (
    SELECT
        s.route, min(s.site) AS site, count(*) AS stops, min(s.interval_days) AS interval_days,
        min(s.window_days) AS window_days,
        count(*) FILTER (s.state = 'overdue') AS stops_overdue,
        count(*) FILTER (s.state = 'never-visited') AS stops_never
    FROM route_stops AS s
    LEFT JOIN fleet_assets AS a ON a.site = s.site AND a.asset = s.asset
    GROUP BY s.route
    HAVING count(a.asset) > 0
),
dated AS (
    SELECT
        l.*, s.* EXCLUDE (route),
        s.last_walk_at + to_seconds(86400 * l.interval_days) AS due_at
    FROM listed AS l
    LEFT JOIN summed AS s ON s.route = l.route
)
SELECT
    route, site, stops, interval_days, coalesce(walks, 0) AS walks,
    1 + floor(epoch(window_to() - counted_from)
        / (86400 * interval_days))::BIGINT AS walks_expected,
    coalesce(walks_late, 0) AS walks_late, coalesce(planned, 0) AS planned,
    coalesce(measured, 0) AS measured, coalesce(not_running, 0) AS not_running,
    coalesce(missed, 0) AS missed, coalesce(unexplained, 0) AS unexplained,
    measured / nullif(planned - not_running, 0) AS share,
    last_walk_at, due_at, stops_overdue, stops_never,
    CASE
        WHEN last_walk_at IS NULL THEN 'never-walked'
        WHEN due_at + to_seconds(86400 * window_days)
            < CAST(getvariable('as_of') AS TIMESTAMPTZ) THEN 'overdue'
        WHEN due_at < CAST(getvariable('as_of') AS TIMESTAMPTZ) THEN 'due'
        ELSE 'in-time'
    END AS state
FROM dated;
