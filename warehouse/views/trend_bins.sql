-- purpose: the operating bin within which a series is compared over time (rule S3): the one most of
--          its last days were in.
-- grain: one row a series with readings that the daily roll-up knows.
-- columns: series_id, today (site-local day of `as_of`), on_route, bin (null where its speed may
--          vary and none is known).
-- depends: daily_statistics, series, setting
-- materialise: yes
CREATE OR REPLACE VIEW trend_bins AS
WITH recent AS (
    SELECT series_id, day, bin
    FROM daily_statistics
    WHERE bin IS NOT NULL AND judged > 0
    QUALIFY row_number() OVER (PARTITION BY series_id ORDER BY day DESC) <= setting('bin_days')
),
usual AS (
    SELECT series_id, first(bin ORDER BY days DESC, bin) AS bin
    FROM (SELECT series_id, bin, count(*) AS days FROM recent GROUP BY ALL)
    GROUP BY series_id
)
SELECT
    s.series_id,
    CAST(timezone(s.time_zone, CAST(getvariable('as_of') AS TIMESTAMPTZ)) AS DATE) AS today,
    s.method_group = 'route' AS on_route,
    u.bin
FROM series AS s
SEMI JOIN daily_statistics AS d ON d.series_id = s.series_id
LEFT JOIN usual AS u ON u.series_id = s.series_id;
