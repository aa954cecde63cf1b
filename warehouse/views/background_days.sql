-- purpose: what shakes a machine while it stands (rule S2): its running twin, the piping, the floor.
--          A series of its own: none of it is ever judged as running.
-- grain: one row a velocity or displacement series and site-local day with trusted readings at
--        proven standstill.
-- columns: series_id, day, readings (count), median, maximum (unit of the series), last_at (UTC).
-- depends: readings_doubted, series
CREATE OR REPLACE VIEW background_days AS
SELECT
    r.series_id, r.day, count(*) AS readings, median(r.value) AS median, max(r.value) AS maximum,
    max(r.ts) AS last_at
FROM readings_doubted AS r
JOIN series AS s ON s.series_id = r.series_id
WHERE r.state = 'stopped' AND r.doubt IS NULL
    AND s.quantity IN ('velocity', 'displacement') AND s.feature = 'overall'
GROUP BY r.series_id, r.day;
