-- purpose: which machines cost the most trouble within the window, not which stand worst now
--          (`worst_machines`). Everything is counted by train or machine: more sensors on it change
--          nothing. The score is common practice, no source: a train's share of all trouble of its
--          kind, the mean over the kinds there are; weighted by criticality beside it (rule W6).
-- grain: one row an asset in use; without rank where it was not watched long enough.
-- columns: rank, weighted_rank (1 = worst, equals share one; null where there is no score), n (ranked,
--          count), score, weighted_score (1; null where not `enough`, or no trouble was told of any),
--          site, asset, name, area, criticality, weight (1), classes (words), into_alert, into_danger
--          (came into it from a lower level, or was found in it, count), alert_hours, danger_hours
--          (h, since they were told), time_base (running, calendar, mixed: of these hours; null without any), failures (functional, count), down_hours
--          (h, unplanned: of functional failures, and of corrective work that does not say whether
--          function was lost; `reliability` parts them from planned work in the same way),
--          cost (of all work; currency of the source; sources are not converted), repeats (count), seen_hours
--          (h), visits (count), enough, reason (too-little-seen, no-trouble: nothing told of any; null where ranked), window_from,
--          window_to (UTC).
-- depends: fleet_assets, fleet_hours, level_spells, alarm_hours, recurrences, maintenance_current, window_from, window_to
CREATE OR REPLACE VIEW bad_actors AS
WITH came AS (
    SELECT
        site, asset,
        count(*) FILTER (entered = 'alert' OR found AND level = 'alert') AS into_alert,
        count(*) FILTER (entered = 'danger' OR found AND level = 'danger') AS into_danger
    FROM level_spells
    WHERE scope = 'asset' AND since >= window_from() AND since < window_to()
    GROUP BY ALL
),
returned AS (
    SELECT site, asset, count(*) AS repeats
    FROM recurrences
    WHERE happened_at >= window_from() AND happened_at < window_to()
    GROUP BY ALL
),
worked AS (
    SELECT
        site, asset, count(*) FILTER (failure = 'functional') AS failures,
        -- A planned job takes a machine out because it is wanted so: that is no trouble.
        sum(down_hours) FILTER (failure = 'functional' OR (failure IS NULL AND type = 'corrective'))
            AS down_hours,
        sum(cost) AS cost
    FROM maintenance_current
    WHERE started_at >= window_from() AND started_at < window_to()
    GROUP BY ALL
),
joined AS (
    SELECT
        a.site, a.asset, a.name, a.area, a.criticality, a.weight, a.classes,
        coalesce(e.into_alert, 0) AS into_alert, coalesce(e.into_danger, 0) AS into_danger,
        coalesce(h.alert_hours, 0) AS alert_hours, coalesce(h.danger_hours, 0) AS danger_hours,
        CASE
            WHEN h.alert_hours + h.danger_hours = 0 THEN NULL
            WHEN h.unproven_hours < 0.001 THEN 'running'
            WHEN h.unproven_hours < h.alert_hours + h.danger_hours - 0.001 THEN 'mixed'
            WHEN h.unproven_hours IS NOT NULL THEN 'calendar'
        END AS time_base,
        coalesce(w.failures, 0) AS failures, w.down_hours, w.cost,
        coalesce(r.repeats, 0) AS repeats, f.seen_hours, f.visits, f.enough
    FROM fleet_assets AS a
    JOIN fleet_hours AS f ON f.site = a.site AND f.asset = a.asset
    LEFT JOIN came AS e ON e.site = a.site AND e.asset = a.asset
    LEFT JOIN alarm_hours AS h ON h.site = a.site AND h.asset = a.asset
    LEFT JOIN worked AS w ON w.site = a.site AND w.asset = a.asset
    LEFT JOIN returned AS r ON r.site = a.site AND r.asset = a.asset
    WHERE a.service_state <> 'removed'
),
shared AS (
    SELECT
        *,
        [
            (into_alert + into_danger) / nullif(sum(into_alert + into_danger) OVER ranked, 0),
            (alert_hours + danger_hours) / nullif(sum(alert_hours + danger_hours) OVER ranked, 0),
            failures / nullif(sum(failures) OVER ranked, 0),
            coalesce(down_hours, 0) / nullif(sum(down_hours) OVER ranked, 0),
            coalesce(cost, 0) / nullif(sum(cost) OVER ranked, 0),
            repeats / nullif(sum(repeats) OVER ranked, 0)
        ] AS shares
    FROM joined
    WINDOW ranked AS (PARTITION BY enough)
),
scored AS (
    SELECT * EXCLUDE (shares), round(CASE WHEN enough THEN list_avg(shares) END, 9) AS score
    FROM shared
)
SELECT
    CASE WHEN score IS NOT NULL THEN rank() OVER (ORDER BY score DESC NULLS LAST) END AS rank,
    CASE WHEN score IS NOT NULL THEN rank() OVER (ORDER BY score * weight DESC NULLS LAST) END
        AS weighted_rank,
    count(score) OVER () AS n,
    score, score * weight AS weighted_score, * EXCLUDE (score),
    CASE WHEN NOT enough THEN 'too-little-seen' WHEN score IS NULL THEN 'no-trouble' END AS reason,
    window_from() AS window_from, window_to() AS window_to
FROM scored;
