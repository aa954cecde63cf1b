-- purpose: the machine trains that the fleet views are about: all, or those of the sites, classes
--          (of any machine of the train; ISO 14224 equipment classes) and criticalities asked for.
-- grain: one row an asset. Measuring stations are no machines.
-- columns: site, asset, name, area, criticality, weight (1, of the criticality), service_state,
--          gone_from (UTC: laid up or removed since; null while it is in use, or where no date is
--          registered), classes (words), time_zone.
-- depends: setting
-- materialise: when asked
CREATE OR REPLACE VIEW fleet_assets AS
WITH classed AS (
    SELECT site, asset, list(DISTINCT equipment_class ORDER BY equipment_class) AS classes
    FROM members
    WHERE equipment_class <> 'environment'
    GROUP BY ALL
)
SELECT
    a.site, a.asset, a.name, a.area, a.criticality,
    CASE a.criticality WHEN 'A' THEN setting('weight_criticality_a')
        WHEN 'B' THEN setting('weight_criticality_b')
        ELSE setting('weight_criticality_c') END AS weight,
    a.service_state,
    CASE WHEN a.service_state IN ('laid-up', 'removed') THEN a.service_from END AS gone_from,
    array_to_string(c.classes, ', ') AS classes,
    z.time_zone
FROM assets AS a
JOIN classed AS c ON c.site = a.site AND c.asset = a.asset
JOIN sites AS z ON z.site = a.site
WHERE coalesce(list_contains(CAST(getvariable('fleet_sites') AS VARCHAR[]), a.site), true)
    AND coalesce(list_has_any(CAST(getvariable('fleet_classes') AS VARCHAR[]), c.classes), true)
    AND (getvariable('fleet_criticalities') IS NULL OR coalesce(
        list_contains(CAST(getvariable('fleet_criticalities') AS VARCHAR[]), a.criticality), false));
