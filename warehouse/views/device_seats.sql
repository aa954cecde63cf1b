-- purpose: where a device measures: where it is mounted now; one without mountings, where it sent
--          from.
-- grain: one row a device and position.
-- columns: device, site, asset, position.
-- depends: streams
CREATE OR REPLACE VIEW device_seats AS
SELECT device, site, asset, position FROM mountings
WHERE mounted_from <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
    AND (mounted_to IS NULL OR mounted_to > CAST(getvariable('as_of') AS TIMESTAMPTZ))
UNION
SELECT device, site, asset, position FROM streams
WHERE device NOT IN (SELECT device FROM mountings);
