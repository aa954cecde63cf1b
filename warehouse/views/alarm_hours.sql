-- purpose: how long each train ran in alert and in danger. A level is held while a machine stands
--          (rule J6): of days that prove running, only the running share counts; else all of the time
--          counts, and is told apart.
-- grain: one row an asset that was in alert or danger within the window.
-- columns: site, asset, alert_hours, danger_hours (h), unproven_hours (h: of both, without proof of
--          running).
-- depends: level_spells, asset_days, window_from, window_to
CREATE OR REPLACE VIEW alarm_hours AS
WITH spells AS (
    SELECT
        s.site, s.asset, s.seq, s.level,
        greatest(s.since, window_from()) AS since, least(s.until, window_to()) AS until
    FROM level_spells AS s
    WHERE s.scope = 'asset' AND s.level IN ('alert', 'danger')
        AND s.since < window_to() AND s.until > window_from()
),
proven AS (
    SELECT
        s.site, s.asset, s.seq,
        sum(epoch(least(s.until, d.day_to) - greatest(s.since, d.day_from))) / 3600 AS hours,
        sum(d.running_share * epoch(least(s.until, d.day_to) - greatest(s.since, d.day_from)))
            / 3600 AS running_hours
    FROM spells AS s
    JOIN asset_days AS d
        ON d.site = s.site AND d.asset = s.asset AND d.running_share IS NOT NULL
        AND d.day_from < s.until AND d.day_to > s.since
    GROUP BY ALL
),
counted AS (
    SELECT
        s.site, s.asset, s.level, coalesce(p.running_hours, 0) AS running_hours,
        epoch(s.until - s.since) / 3600 - coalesce(p.hours, 0) AS unproven_hours
    FROM spells AS s
    LEFT JOIN proven AS p ON p.site = s.site AND p.asset = s.asset AND p.seq = s.seq
)
SELECT
    site, asset,
    coalesce(sum(running_hours + unproven_hours) FILTER (level = 'alert'), 0) AS alert_hours,
    coalesce(sum(running_hours + unproven_hours) FILTER (level = 'danger'), 0) AS danger_hours,
    sum(unproven_hours) AS unproven_hours
FROM counted
GROUP BY ALL;
