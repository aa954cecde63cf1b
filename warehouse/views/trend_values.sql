-- purpose: the daily values a trend is taken from (rules J8, S3): the median of the day's steady
--          readings within the operating bin, as the detector that is judged (rule R1). Days before
--          restoring work tell nothing of the machine as it is now.
-- grain: one row a series and site-local day.
-- columns: series_id, day, place (number of the day), value (canonical unit of the series,
--          detector `judged_detector`).
-- depends: daily_statistics, readings_steady, trend_speeds, restored_series, series
-- materialise: yes
-- kept: series_id
CREATE OR REPLACE VIEW trend_values AS
WITH recent AS MATERIALIZED (
    SELECT
        d.series_id, d.day, d.median, b.slow, b.fast, b.varies,
        d.in_bin = d.judged AND (d.speedless = 0 OR NOT b.varies)
            AND coalesce(d.slowest >= b.slow AND d.fastest <= b.fast, d.slowest IS NULL) AS whole
    FROM daily_statistics AS d
    JOIN trend_speeds AS b ON b.series_id = d.series_id
    LEFT JOIN restored_series AS w ON w.series_id = d.series_id
    WHERE d.median IS NOT NULL AND (w.restored_at IS NULL OR d.first_at > w.restored_at)
),
-- Days on which the machine ran in more than one bin: only their readings are looked at again.
parted AS (
    SELECT r.series_id, r.day, median(r.value) AS median
    FROM readings_steady AS r
    JOIN recent AS d ON d.series_id = r.series_id AND d.day = r.day AND NOT d.whole
    WHERE coalesce(r.speed BETWEEN d.slow AND d.fast, NOT d.varies)
    GROUP BY r.series_id, r.day
),
every AS (
    SELECT series_id, day, median FROM recent WHERE whole
    UNION ALL
    SELECT series_id, day, median FROM parted
)
SELECT
    e.series_id, e.day, date_diff('day', DATE '1970-01-01', e.day)::INTEGER AS place,
    e.median * s.to_rms AS value
FROM every AS e
JOIN series AS s ON s.series_id = e.series_id;
