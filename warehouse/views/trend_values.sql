-- purpose: the daily values a trend is taken from (rules J8, S3): the median of the day's steady
--          readings within the operating bin, as the detector that is judged (rule R1).
-- grain: one row a series and site-local day within the longest window.
-- columns: series_id, day, place (number of the day), value (canonical unit of the series,
--          detector `judged_detector`).
-- depends: daily_statistics, trend_bins, series, setting
-- materialise: yes
CREATE OR REPLACE VIEW trend_values AS
SELECT
    d.series_id, d.day, date_diff('day', DATE '1970-01-01', d.day)::INTEGER AS place,
    d.median * s.to_rms AS value
FROM daily_statistics AS d
JOIN trend_bins AS b ON b.series_id = d.series_id AND b.bin = d.bin
JOIN series AS s ON s.series_id = d.series_id
WHERE d.median IS NOT NULL AND d.day <= b.today
    AND d.day > b.today - CAST(setting('trend_route_days') AS INTEGER);
