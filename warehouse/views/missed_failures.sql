-- purpose: functional failures that maintenance reported, and whether a case of the machine was open
--          within the `missed_failure_days` before: what the warning missed, and whether it watched at
--          all.
-- grain: one row a functional failure within the window.
-- columns: site, asset, member (null: the whole train), equipment_class, work_id, failed_at (UTC: the
--          work began), as_found (failure mode, ISO 14224), severity, down_hours (h), case_id,
--          case_basis, opened_at (UTC; of the case that was open, the first opened one; null without),
--          lead_days (d, from its opening to the failure), watched (a level was known within those
--          days), missed (no case was open), why (told, not-watched, no-case).
-- depends: maintenance_current, fleet_assets, fleet_members, level_spells, window_from, window_to, setting
-- materialise: when asked
CREATE OR REPLACE VIEW missed_failures AS
WITH failed AS (
    SELECT
        e.work_id, e.site, e.asset, e.member, m.equipment_class, e.started_at AS failed_at,
        e.started_at - to_seconds(86400 * setting('missed_failure_days')) AS looked_from,
        e.as_found, e.severity, e.down_hours
    FROM maintenance_current AS e
    SEMI JOIN fleet_assets AS a ON a.site = e.site AND a.asset = e.asset
    LEFT JOIN fleet_members AS m
        ON m.site = e.site AND m.asset = e.asset AND m.member = e.member
    WHERE e.failure = 'functional' AND e.started_at >= window_from()
        AND e.started_at < window_to()
        AND (e.member IS NULL OR m.member IS NOT NULL)
),
standing AS (
    SELECT
        case_id, site, asset, member, basis, opened_at, state, happened_at AS since,
        coalesce(lead(happened_at) OVER (PARTITION BY case_id ORDER BY seq),
            CAST(getvariable('as_of') AS TIMESTAMPTZ)) AS until
    FROM case_events
),
warned AS (
    SELECT
        f.work_id, min(s.opened_at) AS opened_at, arg_min(s.case_id, s.opened_at) AS case_id,
        arg_min(s.basis, s.opened_at) AS basis
    FROM failed AS f
    JOIN standing AS s
        ON s.site = f.site AND s.asset = f.asset
        AND (f.member IS NULL OR s.member = f.member)
        AND s.state <> 'closed' AND s.since < f.failed_at AND s.until >= f.looked_from
    GROUP BY f.work_id
),
seen AS (
    SELECT DISTINCT f.work_id
    FROM failed AS f
    JOIN level_spells AS s
        ON s.site = f.site AND s.asset = f.asset AND s.member IS NOT DISTINCT FROM f.member
        AND s.level <> 'unknown' AND s.since < f.failed_at AND s.until >= f.looked_from
)
SELECT
    f.site, f.asset, f.member, f.equipment_class, f.work_id, f.failed_at, f.as_found, f.severity,
    f.down_hours, w.case_id, w.basis AS case_basis, w.opened_at,
    epoch(f.failed_at - w.opened_at) / 86400 AS lead_days,
    s.work_id IS NOT NULL AS watched,
    w.case_id IS NULL AS missed,
    CASE
        WHEN w.case_id IS NOT NULL THEN 'told'
        WHEN s.work_id IS NULL THEN 'not-watched'
        ELSE 'no-case'
    END AS why
FROM failed AS f
LEFT JOIN warned AS w ON w.work_id = f.work_id
LEFT JOIN seen AS s ON s.work_id = f.work_id;
