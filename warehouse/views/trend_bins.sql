-- purpose: the operating bin of each series, and which day it is where its machine stands.
-- grain: one row a series with readings that the daily roll-up knows.
-- columns: those of trend_speeds; today (site-local day of `as_of`).
-- depends: trend_speeds, series
-- materialise: yes
-- remembered: yes
CREATE OR REPLACE VIEW trend_bins AS
SELECT
    b.*, CAST(timezone(s.time_zone, CAST(getvariable('as_of') AS TIMESTAMPTZ)) AS DATE) AS today
FROM trend_speeds AS b
JOIN series AS s ON s.series_id = b.series_id;
