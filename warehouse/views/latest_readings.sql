-- purpose: the latest reading of every series, whatever its state.
-- grain: one row a series of vibration or temperature.
-- columns: series_id, ts (UTC), value (canonical unit of the series), quality, state, doubt
--          (null where there is none), doubted_now (the last 3 online readings, or the last
--          route reading, are all doubted), stale_after (UTC).
-- depends: readings_doubted, series, setting
-- materialise: yes
-- kept: series_id
CREATE OR REPLACE VIEW latest_readings AS
WITH doubted AS (
    SELECT * FROM readings_doubted
),
-- The first cut is cheap and only too wide, so that few readings are put in order.
newest AS (
    SELECT series_id, list_min(max(ts, setting('judged_readings')::BIGINT)) AS newest_from
    FROM doubted
    GROUP BY series_id
),
latest AS (
    SELECT
        r.*,
        row_number() OVER (PARTITION BY r.series_id ORDER BY r.ts DESC, r.value DESC) AS place
    FROM doubted AS r
    JOIN newest AS n ON n.series_id = r.series_id AND r.ts >= n.newest_from
    QUALIFY place <= setting('judged_readings')
)
SELECT
    l.series_id,
    max(l.ts) AS ts,
    max(l.value) FILTER (WHERE l.place = 1) AS value,
    max(l.quality) FILTER (WHERE l.place = 1) AS quality,
    max(l.state) FILTER (WHERE l.place = 1) AS state,
    max(l.doubt) FILTER (WHERE l.place = 1) AS doubt,
    CASE WHEN any_value(s.method_group) = 'route'
        THEN bool_or(l.doubt IS NOT NULL) FILTER (WHERE l.place = 1)
        ELSE bool_and(l.doubt IS NOT NULL) END AS doubted_now,
    max(l.ts) + to_hours(any_value(s.fresh_hours)::BIGINT) AS stale_after
FROM latest AS l
JOIN series AS s ON s.series_id = l.series_id
GROUP BY l.series_id;
