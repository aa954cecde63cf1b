-- purpose: the operating bin within which a series is compared over time (rule S3): 5 % about the
--          speed it usually runs at. A machine whose speed is never told has one bin, unless the
--          registry says that it varies: then nothing can be compared.
-- grain: one row a series with readings that the daily roll-up knows.
-- columns: series_id, on_route, slow, fast (/min of the reference shaft; null where no speed is
--          known), varies (its speed may vary).
-- depends: daily_statistics, series, setting
-- materialise: yes
-- kept: series_id
CREATE OR REPLACE VIEW trend_speeds AS
WITH recent AS (
    SELECT series_id, speed
    FROM daily_statistics
    WHERE speed IS NOT NULL
    QUALIFY row_number() OVER (PARTITION BY series_id ORDER BY day DESC) <= setting('bin_days')
),
usual AS (
    SELECT series_id, quantile_disc(speed, 0.5) AS speed
    FROM recent
    GROUP BY series_id
),
trains AS (
    SELECT
        site, asset,
        bool_or(coalesce(supply = 'frequency-converter', false)
            OR coalesce(min_speed < max_speed, false)) AS varies
    FROM members
    GROUP BY ALL
)
SELECT
    s.series_id,
    s.method_group = 'route' AS on_route,
    u.speed * (1 - setting('bin_speed_share')) AS slow,
    u.speed * (1 + setting('bin_speed_share')) AS fast,
    coalesce(t.varies, false) AS varies
FROM series AS s
SEMI JOIN daily_statistics AS d ON d.series_id = s.series_id
LEFT JOIN usual AS u ON u.series_id = s.series_id
LEFT JOIN trains AS t ON t.site = s.site AND t.asset = s.asset;
