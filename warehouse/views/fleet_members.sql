-- purpose: the machines of the trains that the fleet views are about; where classes are asked for,
--          those of these classes only.
-- grain: one row a member. Measuring stations are no machines.
-- columns: site, asset, member, equipment_class, role.
-- depends: fleet_assets
CREATE OR REPLACE VIEW fleet_members AS
SELECT m.site, m.asset, m.member, m.equipment_class, m.role
FROM members AS m
JOIN fleet_assets AS a ON a.site = m.site AND a.asset = m.asset
WHERE m.equipment_class <> 'environment'
    AND coalesce(
        list_contains(CAST(getvariable('fleet_classes') AS VARCHAR[]), m.equipment_class), true);
