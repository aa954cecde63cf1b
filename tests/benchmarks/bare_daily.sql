-- purpose: the yardstick of `make bench-trends`: the daily medians of the same readings, no more
-- grain: one row a series and day
CREATE OR REPLACE TEMP TABLE bare_daily AS
SELECT series_id, day, median(value) AS median
FROM bare_readings
GROUP BY series_id, day
