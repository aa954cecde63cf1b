-- purpose: mean time between functional failures and mean time to restoration (rule W3; operating
--          time over failures, and time to restoration over failures, as EN 13306 and EN 15341 name
--          them: V1, V2), from what maintenance reported. Planned repairs are no failures: they end
--          an observation without one, and their time counts. What is not defined is null, with why.
-- grain: one row an asset, class of machine (ISO 14224), site, and the whole selection (`fleet`).
-- columns: grouped_by (asset, class, site, fleet), site, asset, equipment_class (null where it is not
--          what the row is about), machines (trains, or machines of a class, whose time counts),
--          unreported (those whose site reports no maintenance), operating_hours (h, of all
--          machines), time_base (running, calendar, mixed), failures (functional), planned (repairs
--          without loss of function), untold (corrective events that do not say whether function
--          was lost), mtbf, mtbf_low, mtbf_high (h; two-sided bounds at `reliability_confidence` for
--          a time-terminated observation, chi-square; a constant rate of failures is taken for
--          granted), mtbf_reason (no-maintenance-reported, no-operating-time, no-failure), restored
--          (failures with their hours down, count), mttr (h), mttr_reason (no-maintenance-reported,
--          no-failure, hours-not-told).
-- depends: fleet_hours, fleet_members, maintenance_current, setting
CREATE OR REPLACE VIEW reliability AS
WITH events AS (
    SELECT e.site, e.asset, e.member, e.failure, e.type, e.resets, e.down_hours
    FROM maintenance_current AS e
    JOIN fleet_hours AS h ON h.site = e.site AND h.asset = e.asset
    -- The event that begins the observation had no time before it: counted, it would make every
    -- MTBF too short.
    WHERE e.started_at > h.reported_from AND e.started_at < h.reported_to
),
counted AS (
    SELECT
        site, asset, member,
        count(*) FILTER (failure = 'functional') AS failures,
        count(*) FILTER (failure IN ('potential', 'none') AND resets IN ('baseline', 'new-machine'))
            AS planned,
        count(*) FILTER (failure IS NULL AND type = 'corrective') AS untold,
        count(down_hours) FILTER (failure = 'functional') AS restored,
        sum(down_hours) FILTER (failure = 'functional') AS down_hours
    FROM events
    GROUP BY ALL
),
trains AS (
    SELECT
        h.site, h.asset, h.operating_hours, h.time_base,
        coalesce(sum(c.failures), 0) AS failures, coalesce(sum(c.planned), 0) AS planned,
        coalesce(sum(c.untold), 0) AS untold, coalesce(sum(c.restored), 0) AS restored,
        sum(c.down_hours) AS down_hours
    FROM fleet_hours AS h
    LEFT JOIN counted AS c ON c.site = h.site AND c.asset = h.asset
    GROUP BY ALL
),
machines AS (
    SELECT
        m.equipment_class, h.operating_hours, h.time_base,
        coalesce(c.failures, 0) AS failures, coalesce(c.planned, 0) AS planned,
        coalesce(c.untold, 0) AS untold, coalesce(c.restored, 0) AS restored, c.down_hours
    FROM fleet_members AS m
    JOIN fleet_hours AS h ON h.site = m.site AND h.asset = m.asset
    LEFT JOIN counted AS c ON c.site = m.site AND c.asset = m.asset AND c.member = m.member
),
listed AS (
    SELECT 'asset' AS grouped_by, * FROM trains
    UNION ALL BY NAME
    SELECT 'site' AS grouped_by, * EXCLUDE (asset) FROM trains
    UNION ALL BY NAME
    SELECT 'fleet' AS grouped_by, * EXCLUDE (site, asset) FROM trains
    UNION ALL BY NAME
    SELECT 'class' AS grouped_by, * FROM machines
),
summed AS (
    SELECT
        grouped_by, site, asset, equipment_class,
        count(operating_hours) AS machines,
        count(*) - count(operating_hours) AS unreported,
        sum(operating_hours) AS operating_hours,
        CASE WHEN count(DISTINCT time_base) > 1 THEN 'mixed' ELSE min(time_base) END AS time_base,
        sum(failures)::BIGINT AS failures, sum(planned)::BIGINT AS planned,
        sum(untold)::BIGINT AS untold, sum(restored)::BIGINT AS restored,
        sum(down_hours) AS down_hours
    FROM listed
    GROUP BY ALL
),
bounded AS (
    SELECT
        *,
        2 * operating_hours / chi_square_quantile(
            0.5 + setting('reliability_confidence') / 2, 2 * failures + 2) AS low,
        2 * operating_hours / chi_square_quantile(
            0.5 - setting('reliability_confidence') / 2, 2 * failures) AS high
    FROM summed
)
SELECT
    grouped_by, site, asset, equipment_class, machines, unreported, operating_hours, time_base,
    failures, planned, untold,
    CASE WHEN failures > 0 AND operating_hours > 0 THEN operating_hours / failures END AS mtbf,
    CASE WHEN operating_hours > 0 THEN low END AS mtbf_low,
    CASE WHEN operating_hours > 0 THEN high END AS mtbf_high,
    CASE
        WHEN operating_hours IS NULL THEN 'no-maintenance-reported'
        WHEN operating_hours = 0 THEN 'no-operating-time'
        WHEN failures = 0 THEN 'no-failure'
    END AS mtbf_reason,
    restored,
    down_hours / nullif(restored, 0) AS mttr,
    CASE
        WHEN operating_hours IS NULL THEN 'no-maintenance-reported'
        WHEN failures = 0 THEN 'no-failure'
        WHEN restored = 0 THEN 'hours-not-told'
    END AS mttr_reason
FROM bounded;
