-- purpose: where a channel, a route stop or a named point belongs, from when to when
-- grain: one row a mounting, a stop, or a point
SELECT 'mounting' AS place_rule, device AS scope, channel AS name, site, asset, position, axis,
    mounted_from::TIMESTAMP AS valid_from,
    coalesce(mounted_to::TIMESTAMP, TIMESTAMP '9999-12-31') AS valid_to,
    commissioning = 'provisional' AS provisional
FROM mountings
UNION ALL
SELECT 'stop', route, stop, site, asset, position, axis,
    TIMESTAMP '1900-01-01', TIMESTAMP '9999-12-31', false
FROM routes
UNION ALL
SELECT 'point', site || '/' || asset, position, site, asset, position, NULL,
    TIMESTAMP '1900-01-01', TIMESTAMP '9999-12-31', false
FROM points
