-- purpose: every vibration and temperature reading with what has lasted until then (rule J5): a
--          boundary counts as exceeded from `sustained` > boundary on, as left again from
--          `settled` < 0.9 x boundary on. Both are values, so they hold for any limit.
--          What was read before restoring work does not count (rule J6).
-- grain: one row a reading.
-- columns: those of readings_doubted; and of a usable reading (unit of the series; null of others):
--          sustained: online the third largest of the last 4 (of fewer, the least), and no more
--          than the least of the last 15 min; on a route the reading itself;
--          settled: online the greatest of the last 6 and of the last 30 min; on a route the
--          greater of the last 2;
--          twice: the lesser of the last 2; null of the first.
-- depends: readings_doubted, series, stream_blocks, streams
CREATE OR REPLACE VIEW readings_persistent AS
WITH doubted AS (
    SELECT * FROM readings_doubted
),
-- Only where two readings ever lie within half an hour, as they may where two sensors read one
-- place, is there anything to look back on.
dense AS (
    SELECT s.series_id
    FROM stream_blocks AS b
    JOIN streams AS s ON s.stream_id = b.stream_id
    GROUP BY s.series_id
    HAVING min(b.least_gap) <= INTERVAL 30 MINUTES OR count(DISTINCT b.stream_id) > 1
),
with_late AS (
    SELECT *, value AS least_lately, value AS greatest_lately
    FROM doubted
    ANTI JOIN dense USING (series_id)
    UNION ALL
    SELECT
        *,
        min(value) OVER (lately RANGE BETWEEN INTERVAL 15 MINUTES PRECEDING AND CURRENT ROW),
        max(value) OVER (lately RANGE BETWEEN INTERVAL 30 MINUTES PRECEDING AND CURRENT ROW)
    FROM doubted
    SEMI JOIN dense USING (series_id)
    WINDOW lately AS (PARTITION BY series_id, usable, epoch ORDER BY ts)
),
in_order AS (
    SELECT
        r.*, s.method_group = 'route' AS on_route, r.value AS v0,
        lag(r.value) OVER back AS v1, lag(r.value, 2) OVER back AS v2,
        lag(r.value, 3) OVER back AS v3, lag(r.value, 4) OVER back AS v4,
        lag(r.value, 5) OVER back AS v5
    FROM with_late AS r
    JOIN series AS s ON s.series_id = r.series_id
    WINDOW back AS (PARTITION BY r.series_id, r.usable, r.epoch ORDER BY r.ts, r.value)
)
SELECT
    * EXCLUDE (v0, v1, v2, v3, v4, v5, least_lately, greatest_lately, on_route),
    CASE
        WHEN NOT usable THEN NULL
        WHEN on_route THEN v0
        WHEN v3 IS NULL THEN least(v0, v1, v2, least_lately)
        ELSE least(greatest(least(v0, v1), least(v2, v3)), greatest(v0, v1), greatest(v2, v3),
            least_lately)
    END AS sustained,
    CASE
        WHEN NOT usable THEN NULL
        WHEN on_route THEN greatest(v0, v1)
        ELSE greatest(v0, v1, v2, v3, v4, v5, greatest_lately)
    END AS settled,
    CASE WHEN usable AND v1 IS NOT NULL THEN least(v0, v1) END AS twice
FROM in_order;
