-- purpose: how much of the fleet can be judged, and is (rule J7): bearings with a point, those that
--          are measured now, machines no limit set fits, machines nobody sees. Not judged is never
--          healthy.
-- grain: one row an asset, class of machine (ISO 14224), site, and the whole selection (`fleet`).
-- columns: grouped_by (asset, class, site, fleet), site, asset, equipment_class (null where it is not
--          what the row is about), machines (members, count), judgeable_points (bearing positions
--          registered), measured_points (of them judged now), measured_share (1; null where none is
--          registered), seen (machines of which enough is seen), partly_seen, unseen (no point of it
--          is judged now), no_points (machines without a bearing position), unjudged (no limit set
--          fits); counts of machines.
-- depends: member_conditions, unjudged_machines, fleet_members
CREATE OR REPLACE VIEW fleet_coverage AS
WITH lacking AS (
    SELECT DISTINCT site, asset, member FROM unjudged_machines WHERE position IS NULL
),
machines AS (
    SELECT
        m.site, m.asset, m.equipment_class, c.judgeable_points, c.measured_points, c.coverage,
        l.member IS NOT NULL AS unjudged
    FROM fleet_members AS m
    JOIN member_conditions AS c
        ON c.site = m.site AND c.asset = m.asset AND c.member = m.member
    LEFT JOIN lacking AS l ON l.site = m.site AND l.asset = m.asset AND l.member = m.member
),
listed AS (
    SELECT 'asset' AS grouped_by, * EXCLUDE (equipment_class) FROM machines
    UNION ALL BY NAME
    SELECT 'class' AS grouped_by, * EXCLUDE (site, asset) FROM machines
    UNION ALL BY NAME
    SELECT 'site' AS grouped_by, * EXCLUDE (asset, equipment_class) FROM machines
    UNION ALL BY NAME
    SELECT 'fleet' AS grouped_by, * EXCLUDE (site, asset, equipment_class) FROM machines
)
SELECT
    grouped_by, site, asset, equipment_class, count(*) AS machines,
    sum(judgeable_points)::BIGINT AS judgeable_points,
    sum(measured_points)::BIGINT AS measured_points,
    sum(measured_points) / nullif(sum(judgeable_points), 0) AS measured_share,
    count(*) FILTER (coverage = 'normal') AS seen,
    count(*) FILTER (coverage = 'partial') AS partly_seen,
    count(*) FILTER (coverage = 'none') AS unseen,
    count(*) FILTER (judgeable_points = 0) AS no_points,
    count(*) FILTER (unjudged) AS unjudged
FROM listed
GROUP BY ALL;
