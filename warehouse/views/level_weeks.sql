-- purpose: hours of each train at each level and zone, by week.
-- grain: one row an asset, site-local week (Monday to Sunday) within the window, level and zone.
-- columns: site, asset, week (its Monday), level, zone (null where none was given), hours (h).
-- depends: level_spells, fleet_assets, window_from, window_to
CREATE OR REPLACE VIEW level_weeks AS
WITH mondays AS (
    SELECT
        site, asset, time_zone,
        unnest(generate_series(
            date_trunc('week', timezone(time_zone, window_from())),
            timezone(time_zone, window_to()), INTERVAL 7 DAY)) AS monday
    FROM fleet_assets
),
weeks AS (
    SELECT
        site, asset, monday::DATE AS week,
        greatest(timezone(time_zone, monday), window_from()) AS week_from,
        least(timezone(time_zone, monday + INTERVAL 7 DAY), window_to()) AS week_to
    FROM mondays
)
SELECT
    w.site, w.asset, w.week, s.level, s.zone,
    sum(epoch(least(s.until, w.week_to) - greatest(s.since, w.week_from))) / 3600 AS hours
FROM weeks AS w
JOIN level_spells AS s
    ON s.scope = 'asset' AND s.site = w.site AND s.asset = w.asset
    AND s.since < w.week_to AND s.until > w.week_from AND s.until > s.since
GROUP BY ALL;
