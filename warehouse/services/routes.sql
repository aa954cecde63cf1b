-- purpose: what is asked about routes, one statement each
-- grain: see each statement

-- name: list
-- Routes and how well they were walked.
SELECT * FROM route_compliance WHERE site = coalesce($site, site) ORDER BY site, route

-- name: walks
-- Walks of a route, the newest first.
SELECT * FROM route_walks WHERE route = $route ORDER BY walk DESC

-- name: stops
-- Stops of a route on the walk: place, what to read, the last reading (canonical unit), the boundary
-- above which the level is an alert (B/C, as rms of the canonical unit), the expected state.
WITH stops AS (
    SELECT
        *,
        CASE
            WHEN axis = 'axial' THEN 'axial'
            WHEN axis IN ('horizontal', 'radial-in-line') THEN 'horizontal'
            WHEN axis IN ('vertical', 'radial-cross') THEN 'vertical'
            ELSE 'radial'
        END AS direction,
        CASE WHEN detector IN ('derived-peak', 'derived-peak-to-peak') THEN 'rms' ELSE detector END
            AS judged_detector
    FROM routes
    WHERE route = $route
),
walked AS (
    SELECT site, asset, position, axis, quantity, detector, band, ts, value
    FROM readings_current
    WHERE method = 'route' AND value IS NOT NULL
        AND (site, asset, position) IN (SELECT (site, asset, position) FROM stops)
    QUALIFY row_number() OVER (
        PARTITION BY site, asset, position, axis, quantity, detector, band
        ORDER BY ts DESC, take DESC) = 1
),
limited AS (
    SELECT r.stop, min(w.middle) AS alert
    FROM stops AS r
    JOIN points AS p ON p.site = r.site AND p.asset = r.asset AND p.position = r.position
    JOIN points_limits AS m
        ON m.site = r.site AND m.asset = r.asset AND m.position = r.position
        AND m.direction = r.direction
    JOIN limit_rows AS w
        ON w.limit_set = m.limit_set AND w."group" = m.limit_group AND w.support = m.support
        AND w.quantity = r.quantity AND w.detector = r.judged_detector
        AND (w.part IS NULL OR w.part = p.part)
        AND (w.speed_over IS NULL OR m.lowest_speed IS NULL OR m.lowest_speed > w.speed_over)
        AND (w.speed_up_to IS NULL OR m.lowest_speed <= w.speed_up_to)
    WHERE p.part IS NOT NULL
        OR (p.bearing_housing AND (r.direction <> 'axial' OR p.thrust_end))
    GROUP BY r.stop
)
SELECT
    r.route, r.stop, r.walk_order, r.site, z.time_zone, r.asset, a.name AS asset_name, p.member,
    r.position, r.axis, r.quantity, r.detector, r.band, r.unit, r.temperature_unit, r.meter,
    r.mounting_method, p.area_classification, l.value AS last_value, l.ts AS last_at,
    t.value AS last_temperature, m.alert,
    CASE
        WHEN a.service_state IN ('laid-up', 'removed', 'standby') THEN a.service_state
        WHEN g.at_rest THEN 'running (stood when last seen)'
        ELSE 'running'
    END AS expected,
    s.state AS due
FROM stops AS r
JOIN sites AS z ON z.site = r.site
JOIN assets AS a ON a.site = r.site AND a.asset = r.asset
LEFT JOIN points AS p ON p.site = r.site AND p.asset = r.asset AND p.position = r.position
LEFT JOIN walked AS l
    ON l.site = r.site AND l.asset = r.asset AND l.position = r.position
    AND l.axis IS NOT DISTINCT FROM r.axis AND l.quantity = r.quantity
    AND l.detector = r.detector AND l.band IS NOT DISTINCT FROM r.band
LEFT JOIN walked AS t
    ON t.site = r.site AND t.asset = r.asset AND t.position = r.position
    AND t.quantity = 'temperature' AND t.detector = 'value'
LEFT JOIN limited AS m ON m.stop = r.stop
LEFT JOIN asset_running AS g ON g.site = r.site AND g.asset = r.asset
LEFT JOIN route_stops AS s ON s.route = r.route AND s.stop = r.stop
ORDER BY r.walk_order, r.stop
