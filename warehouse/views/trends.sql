-- purpose: rate of change of every series: Theil-Sen slope of daily medians with Sen's interval
--          from the tie-corrected Mann-Kendall variance (Theil 1950, Sen 1968; rule J8). Daily
--          values are taken as independent: no correction for autocorrelation yet.
-- grain: one row a series with enough daily values in its window.
-- columns: series_id, days (count of daily values), first_day, last_day, per_30_days,
--          low, high (95 % bounds) in the unit of the series per 30 d, s (Mann-Kendall S),
--          variance (of S), z (continuity corrected), significant (the interval excludes zero).
-- depends: daily_statistics, series, setting
-- materialise: yes
CREATE OR REPLACE VIEW trends AS
WITH daily AS MATERIALIZED (
    SELECT
        d.series_id, d.day, date_diff('day', DATE '1970-01-01', d.day) AS x, d.median AS y,
        s.method_group
    FROM daily_statistics AS d
    JOIN series AS s ON s.series_id = d.series_id
    WHERE d.median IS NOT NULL
        AND d.day > CAST(timezone(s.time_zone, CAST(getvariable('as_of') AS TIMESTAMPTZ)) AS DATE)
            - CAST(CASE WHEN s.method_group = 'route' THEN setting('trend_route_days')
                ELSE setting('trend_days') END AS INTEGER)
),
counted AS (
    SELECT
        series_id, count(*) AS n, min(day) AS first_day, max(day) AS last_day
    FROM daily
    GROUP BY series_id, method_group
    HAVING count(*) >= CASE WHEN method_group = 'route' THEN setting('trend_min_visits')
        ELSE setting('trend_min_days') END
),
ties AS (
    SELECT series_id, sum(t * (t - 1) * (2 * t + 5)) AS correction
    FROM (SELECT series_id, y, count(*) AS t FROM daily GROUP BY series_id, y)
    GROUP BY series_id
),
pairs AS (
    SELECT
        a.series_id,
        list_sort(list((b.y - a.y) / (b.x - a.x))) AS slopes,
        sum(sign(b.y - a.y)) AS s
    FROM daily AS a
    JOIN daily AS b ON b.series_id = a.series_id AND b.x > a.x
    JOIN counted AS c ON c.series_id = a.series_id
    GROUP BY a.series_id
),
spread AS (
    SELECT
        p.series_id, c.n, c.first_day, c.last_day, p.slopes, p.s,
        (c.n * (c.n - 1) * (2 * c.n + 5) - t.correction) / 18.0 AS variance,
        len(p.slopes) AS pairs
    FROM pairs AS p
    JOIN counted AS c ON c.series_id = p.series_id
    JOIN ties AS t ON t.series_id = p.series_id
),
ranked AS (
    SELECT
        *,
        CAST(round_even((pairs - setting('trend_z') * sqrt(variance)) / 2, 0) AS INTEGER) AS below,
        CAST(round_even((pairs + setting('trend_z') * sqrt(variance)) / 2, 0) AS INTEGER) AS above
    FROM spread
)
SELECT
    series_id,
    CAST(n AS INTEGER) AS days,
    first_day,
    last_day,
    30 * list_aggregate(slopes, 'median') AS per_30_days,
    30 * slopes[greatest(below, 1)] AS low,
    30 * slopes[least(above + 1, pairs)] AS high,
    s,
    variance,
    CASE WHEN s = 0 OR variance = 0 THEN 0 ELSE (s - sign(s)) / sqrt(variance) END AS z,
    -- With few values the rank falls outside the list and no interval exists.
    below >= 1 AND above + 1 <= pairs
        AND (slopes[greatest(below, 1)] > 0 OR slopes[least(above + 1, pairs)] < 0) AS significant
FROM ranked;
