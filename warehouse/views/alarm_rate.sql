-- purpose: how often trains come into alert or danger, a week and a hundred machines: what the people
--          at the other end have to bear. Trains that stood there when they were first judged are
--          told apart: nobody was alarmed by a change.
-- grain: one row a site and site-local week within the window in which any train was judged.
-- columns: site, week (its Monday), machines (trains at a known level, count), machine_weeks (their
--          time at a known level, wk), into_alert, into_danger, changes (both, count), per_hundred
--          (changes a week and hundred machines; null where no time is known), found (count).
-- depends: level_spells, level_weeks, fleet_assets, window_from, window_to
CREATE OR REPLACE VIEW alarm_rate AS
WITH changed AS (
    SELECT
        s.site, date_trunc('week', timezone(a.time_zone, s.since))::DATE AS week,
        count(*) FILTER (s.entered = 'alert') AS into_alert,
        count(*) FILTER (s.entered = 'danger') AS into_danger,
        count(*) FILTER (s.found) AS found
    FROM level_spells AS s
    JOIN fleet_assets AS a ON a.site = s.site AND a.asset = s.asset
    WHERE s.scope = 'asset' AND s.since >= window_from() AND s.since < window_to()
    GROUP BY ALL
),
watched AS (
    SELECT
        site, week, count(DISTINCT asset) FILTER (level <> 'unknown') AS machines,
        coalesce(sum(hours) FILTER (level <> 'unknown'), 0) / 168 AS machine_weeks
    FROM level_weeks
    GROUP BY ALL
)
SELECT
    coalesce(w.site, c.site) AS site, coalesce(w.week, c.week) AS week,
    coalesce(w.machines, 0) AS machines, coalesce(w.machine_weeks, 0) AS machine_weeks,
    coalesce(c.into_alert, 0) AS into_alert, coalesce(c.into_danger, 0) AS into_danger,
    coalesce(c.into_alert + c.into_danger, 0) AS changes,
    100 * coalesce(c.into_alert + c.into_danger, 0) / nullif(w.machine_weeks, 0) AS per_hundred,
    coalesce(c.found, 0) AS found
FROM watched AS w
FULL JOIN changed AS c ON c.site = w.site AND c.week = w.week;
