-- purpose: the value each series is judged by (rule J5): online the median of the last 3 steady
--          readings since restoring work, on a route the last reading; derived peaks as rms (rule R1).
-- grain: one row a series that has a judgeable reading.
-- columns: series_id, value (canonical unit of the series, detector `judged_detector`),
--          readings_used, measured_at (UTC), state, speed (/min), stale_after (UTC).
-- depends: readings_steady, series, setting
-- materialise: yes
-- kept: series_id
CREATE OR REPLACE VIEW judged_values AS
WITH latest AS (
    SELECT
        *,
        row_number() OVER (PARTITION BY series_id ORDER BY ts DESC, value DESC) AS place,
        max(ts) OVER (PARTITION BY series_id) AS latest_ts,
        max(epoch) OVER (PARTITION BY series_id) AS latest_epoch
    FROM readings_steady
    QUALIFY place <= setting('judged_readings')
)
SELECT
    l.series_id,
    median(l.value) * any_value(s.to_rms) AS value,
    count(*) AS readings_used,
    max(l.ts) AS measured_at,
    max(l.state) FILTER (WHERE l.place = 1) AS state,
    max(l.speed) FILTER (WHERE l.place = 1) AS speed,
    max(l.ts) + to_hours(any_value(s.fresh_hours)::BIGINT) AS stale_after
FROM latest AS l
JOIN series AS s ON s.series_id = l.series_id
WHERE l.ts >= l.latest_ts - to_hours(s.fresh_hours::BIGINT)
    AND (s.method_group <> 'route' OR l.place = 1) AND l.epoch = l.latest_epoch
GROUP BY l.series_id;
