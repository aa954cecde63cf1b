-- purpose: every visit of a stop with the walk it belongs to. A walk ends where nothing of its route
--          is visited for longer than `walk_gap_days`, or half the interval where that is shorter.
-- grain: one row a route, stop and visit.
-- columns: route, walk (counts from 1), and those of stop_results_current.
-- depends: stop_results_current, setting
CREATE OR REPLACE VIEW route_visits AS
WITH paced AS (
    SELECT route, min(interval_days) AS interval_days FROM routes GROUP BY route
),
gaps AS (
    SELECT
        v.*,
        epoch(v.visited_at - lag(v.visited_at) OVER (
            PARTITION BY v.route ORDER BY v.visited_at, v.stop)) / 86400 AS gap_days,
        least(setting('walk_gap_days'), p.interval_days / 2) AS longest
    FROM stop_results_current AS v
    JOIN paced AS p ON p.route = v.route
)
SELECT
    * EXCLUDE (gap_days, longest),
    1 + count(*) FILTER (gap_days > longest) OVER (
        PARTITION BY route ORDER BY visited_at, stop) AS walk
FROM gaps;
