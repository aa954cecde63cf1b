-- purpose: velocity far below its own history while nothing proves that the machine runs (rule J9):
--          a machine at rest or a loose sensor, cannot tell.
-- grain: one row a series whose latest readings are all doubted so.
-- columns: check_code, stream_id (that of the latest such reading), source, device, since (UTC),
--          until (null: still so), effect, evidence (words).
-- depends: readings_doubted, latest_readings, quiet_references, streams, number_text, unit_text
-- materialise: when asked
CREATE OR REPLACE VIEW trust_stopped_or_loose AS
WITH quiet AS (
    SELECT l.series_id, l.value, max(d.ts) FILTER (WHERE d.doubt IS DISTINCT FROM l.doubt) AS before
    FROM latest_readings AS l
    JOIN readings_doubted AS d ON d.series_id = l.series_id
    WHERE l.doubted_now AND l.doubt = 'stopped-or-loose'
    GROUP BY l.series_id, l.value
),
runs AS (
    SELECT q.series_id, q.value, min(d.ts) AS since, arg_max(d.stream_id, d.ts) AS stream_id
    FROM quiet AS q
    JOIN readings_doubted AS d
        ON d.series_id = q.series_id AND (q.before IS NULL OR d.ts > q.before)
    GROUP BY q.series_id, q.value
)
SELECT
    'stopped-or-loose' AS check_code, r.stream_id, s.source, s.device, r.since,
    NULL::TIMESTAMPTZ AS until, 'distrust' AS effect,
    s.quantity || ' ' || number_text(r.value) || ' ' || unit_text(s.unit) || ', usually '
        || number_text(u.usual_value) || '; nothing proves running' AS evidence
FROM runs AS r
JOIN streams AS s ON s.stream_id = r.stream_id
JOIN quiet_references AS u ON u.series_id = r.series_id;
