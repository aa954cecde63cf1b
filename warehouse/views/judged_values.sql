-- purpose: the value each series is judged by (rule J5): online the median of the last 3 steady
--          readings since restoring work, on a route the last reading; derived peaks as rms (rule R1).
-- grain: one row a series that has a judgeable reading.
-- columns: series_id, value (canonical unit of the series, detector `judged_detector`),
--          readings_used, measured_at (UTC), state, speed (/min), stale_after (UTC).
-- depends: readings_steady, series, setting
-- materialise: yes
-- kept: series_id
CREATE OR REPLACE VIEW judged_values AS
WITH steady AS (
    SELECT * FROM readings_steady
),
-- The first cut is cheap and only too wide, so that few readings are put in order.
newest AS (
    SELECT
        series_id, list_min(max(ts, setting('judged_readings')::BIGINT)) AS newest_from,
        max(ts) AS latest_ts, max(epoch) AS latest_epoch
    FROM steady
    GROUP BY series_id
),
latest AS (
    SELECT
        r.*, n.latest_ts, n.latest_epoch,
        row_number() OVER (PARTITION BY r.series_id ORDER BY r.ts DESC, r.value DESC) AS place
    FROM steady AS r
    JOIN newest AS n ON n.series_id = r.series_id AND r.ts >= n.newest_from
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
