-- purpose: readings with the place the registry gives them now; null where it gives none
-- grain: one row a reading whose place the registry decides (not one whose source names the point)
-- A mapping tells how its readings are placed (`place_rules`). Where a route stands in the file, it
-- is the one whose stop was at the stored place before; else the only one with that stop.
WITH streams AS (
    SELECT row_number() OVER () AS stream, * FROM (
        SELECT DISTINCT
            mapping, device, channel, quantity, detector, band, feature, site, asset, position, axis
        FROM @{readings}
    )
),
ruled AS (
    SELECT streams.*, place_rules.place_rule, place_rules.route, place_rules.states_axis
    FROM streams
    JOIN place_rules
        ON place_rules.mapping = streams.mapping
        AND coalesce(place_rules.device = streams.device, true)
        AND coalesce(place_rules.channel = streams.channel, true)
        AND coalesce(place_rules.quantity = streams.quantity, true)
        AND coalesce(place_rules.detector = streams.detector, true)
        AND coalesce(place_rules.band = streams.band, true)
        AND coalesce(place_rules.feature = streams.feature, true)
    QUALIFY row_number() OVER (PARTITION BY stream ORDER BY place_rules.measure) = 1
),
routes_before AS (
    SELECT name, site, asset, position, min(scope) AS route FROM places_before
    WHERE place_rule = 'stop'
    GROUP BY name, site, asset, position HAVING count(DISTINCT scope) = 1
),
routes_after AS (
    SELECT name, min(scope) AS route FROM places_after
    WHERE place_rule = 'stop' GROUP BY name HAVING count(DISTINCT scope) = 1
),
scoped AS (
    SELECT
        ruled.* EXCLUDE (route),
        CASE place_rule
            WHEN 'mounting' THEN device
            WHEN 'stop' THEN coalesce(ruled.route, routes_before.route, routes_after.route)
        END AS scope
    FROM ruled
    LEFT JOIN routes_before
        ON routes_before.name = ruled.channel
        AND routes_before.site = ruled.site
        AND routes_before.asset = ruled.asset
        AND routes_before.position = ruled.position
    LEFT JOIN routes_after ON routes_after.name = ruled.channel
)
SELECT
    found.*,
    places_after.site AS new_site,
    places_after.asset AS new_asset,
    places_after.position AS new_position,
    CASE
        WHEN found.quantity NOT IN (SELECT quantity FROM vibration) THEN NULL
        WHEN scoped.states_axis THEN found.axis
        ELSE places_after.axis
    END AS new_axis,
    coalesce(places_after.provisional, false) AS provisional
FROM @{readings} AS found
JOIN scoped
    ON scoped.mapping = found.mapping
    AND scoped.device = found.device
    AND scoped.channel = found.channel
    AND scoped.quantity = found.quantity
    AND scoped.detector = found.detector
    AND scoped.band IS NOT DISTINCT FROM found.band
    AND scoped.feature = found.feature
    AND scoped.site = found.site
    AND scoped.asset = found.asset
    AND scoped.position = found.position
    AND scoped.axis IS NOT DISTINCT FROM found.axis
LEFT JOIN places_after
    ON places_after.place_rule = scoped.place_rule
    AND places_after.scope = scoped.scope
    AND places_after.name = found.channel
    AND found.ts::TIMESTAMP >= places_after.valid_from
    AND found.ts::TIMESTAMP < places_after.valid_to
WHERE scoped.scope IS NOT NULL
