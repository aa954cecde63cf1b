-- purpose: how much of a day a machine ran, estimated: the share of steady and transient readings
--          among those that tell running from rest, of the one online vibration series with the
--          most of them. So the number of sensors does not matter, and a day without proof says
--          nothing. A route's reading tells of its moment only: it is a visit, and no share.
-- grain: one row an asset and site-local day within the window with readings.
-- columns: site, asset, day, day_from, day_to (UTC; cut to the window), running_share (1; null
--          without proof), judged (online readings were judged), visited (measured on a route).
-- depends: daily_statistics, series, fleet_assets, window_from, window_to
-- materialise: when asked
CREATE OR REPLACE VIEW asset_days AS
WITH told AS (
    SELECT
        s.site, s.asset, d.day, s.series_id, s.method_group = 'route' AS on_route,
        d.judged, d.judged - d.unproven + d.transient AS running, d.stopped
    FROM daily_statistics AS d
    JOIN series AS s ON s.series_id = d.series_id
    -- A temperature counts as transient after greasing, whatever the machine does.
    WHERE s.quantity <> 'temperature'
),
summed AS (
    SELECT
        site, asset, day,
        arg_max(CASE WHEN running + stopped > 0 THEN running / (running + stopped) END,
            (running + stopped, -series_id)) FILTER (NOT on_route AND running + stopped > 0)
            AS running_share,
        coalesce(bool_or(judged > 0) FILTER (NOT on_route), false) AS judged,
        coalesce(bool_or(judged + running + stopped > 0) FILTER (on_route), false) AS visited
    FROM told
    GROUP BY ALL
)
SELECT
    s.site, s.asset, s.day,
    greatest(timezone(a.time_zone, s.day::TIMESTAMP), window_from()) AS day_from,
    least(timezone(a.time_zone, s.day::TIMESTAMP + INTERVAL 1 DAY), window_to()) AS day_to,
    s.running_share, s.judged, s.visited
FROM summed AS s
JOIN fleet_assets AS a ON a.site = s.site AND a.asset = s.asset
WHERE timezone(a.time_zone, s.day::TIMESTAMP + INTERVAL 1 DAY) > window_from()
    AND timezone(a.time_zone, s.day::TIMESTAMP) < window_to();
