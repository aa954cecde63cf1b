-- purpose: how long each train was watched within the window, and how long it ran then. Where a day
--          proves nothing, its running time is not known; where at least `running_evidence_share` of
--          the watched time is proven, its mean stands for the rest, else the calendar does, and the
--          row says so.
-- grain: one row an asset.
-- columns: site, asset, seen_hours (h: running time of proven days, and all of days with judged
--          readings and no proof), visits (days measured on a route, count), enough (rule W6: at
--          least `least_running_hours`, or `least_visits`), reported_from, reported_to (UTC: of the
--          window, from the first maintenance event of the site on, until it was laid up or removed;
--          null where the site reports none), calendar_hours, operating_hours (h, of that time; less
--          the hours down where the calendar stands in), time_base (running, calendar; null without).
-- depends: asset_days, fleet_assets, maintenance_current, window_from, window_to, setting
-- materialise: when asked
CREATE OR REPLACE VIEW fleet_hours AS
WITH reported AS (
    SELECT site, min(started_at) AS first_at FROM maintenance_current GROUP BY site
),
watched AS (
    SELECT
        a.site, a.asset,
        greatest(window_from(), r.first_at) AS reported_from,
        least(window_to(), a.gone_from) AS reported_to
    FROM fleet_assets AS a
    JOIN reported AS r ON r.site = a.site
    WHERE greatest(window_from(), r.first_at) < least(window_to(), a.gone_from)
),
days AS (
    SELECT
        d.site, d.asset, d.running_share, d.judged, d.visited,
        epoch(d.day_to - d.day_from) / 3600 AS hours,
        greatest(0, epoch(least(d.day_to, w.reported_to) - greatest(d.day_from, w.reported_from)))
            / 3600 AS reported_hours
    FROM asset_days AS d
    LEFT JOIN watched AS w ON w.site = d.site AND w.asset = d.asset
),
summed AS (
    SELECT
        site, asset, count(*) FILTER (visited) AS visits,
        coalesce(sum(hours * running_share), 0)
            + coalesce(sum(hours) FILTER (running_share IS NULL AND judged), 0) AS seen_hours,
        sum(reported_hours) FILTER (running_share IS NOT NULL) AS proven_hours,
        sum(reported_hours * running_share) AS running_hours
    FROM days
    GROUP BY ALL
),
down AS (
    SELECT e.site, e.asset, sum(e.down_hours) AS down_hours
    FROM maintenance_current AS e
    JOIN watched AS w ON w.site = e.site AND w.asset = e.asset
    WHERE e.started_at >= w.reported_from AND e.started_at < w.reported_to
    GROUP BY ALL
),
timed AS (
    SELECT
        a.site, a.asset, coalesce(s.seen_hours, 0) AS seen_hours, coalesce(s.visits, 0) AS visits,
        w.reported_from, w.reported_to,
        epoch(w.reported_to - w.reported_from) / 3600 AS calendar_hours,
        s.proven_hours, s.running_hours, coalesce(d.down_hours, 0) AS down_hours
    FROM fleet_assets AS a
    LEFT JOIN watched AS w ON w.site = a.site AND w.asset = a.asset
    LEFT JOIN summed AS s ON s.site = a.site AND s.asset = a.asset
    LEFT JOIN down AS d ON d.site = a.site AND d.asset = a.asset
),
based AS (
    SELECT *,
        CASE
            WHEN calendar_hours IS NULL THEN NULL
            WHEN proven_hours >= setting('running_evidence_share') * calendar_hours THEN 'running'
            ELSE 'calendar'
        END AS time_base
    FROM timed
)
SELECT
    site, asset, seen_hours, visits,
    seen_hours >= setting('least_running_hours') OR visits >= setting('least_visits') AS enough,
    reported_from, reported_to, calendar_hours,
    CASE time_base
        WHEN 'running' THEN calendar_hours * running_hours / proven_hours
        WHEN 'calendar' THEN greatest(0, calendar_hours - down_hours)
    END AS operating_hours,
    time_base
FROM based;
