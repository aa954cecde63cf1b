-- purpose: streams whose readings carry a mark of their own now or lately: beyond the range,
--          implausible, on a mounting that has not passed its checks. The mark alone doubts them.
-- grain: one row a stream and mark; of a mounting, one row a device.
-- columns: check_code (the mark), stream_id (null of a mounting), source, device, since, until
--          (UTC: the first and last marked reading of the present run; until is null while the
--          latest reading is marked; of what has passed, the first and last of the days looked
--          at), effect, evidence (words).
-- depends: streams, readings_current, setting, time_text
-- materialise: when asked
CREATE OR REPLACE VIEW trust_marked AS
WITH marked AS (
    SELECT
        source, device, channel, site, asset, position, axis, quantity, detector, band, feature,
        method, reason, ts
    FROM readings_current
    WHERE quality <> 'good' AND reason IS NOT NULL
),
sound AS (
    SELECT
        source, device, channel, site, asset, position, axis, quantity, detector, band, feature,
        method, max(ts) AS ts
    FROM readings_current
    WHERE quality = 'good'
    GROUP BY ALL
),
joined AS (
    SELECT
        s.stream_id, m.reason, m.ts, g.ts AS sound_at,
        m.ts > CAST(getvariable('as_of') AS TIMESTAMPTZ)
            - to_days(setting('trust_recent_days')::INTEGER) AS lately
    FROM marked AS m
    JOIN streams AS s
        ON s.source = m.source AND s.device = m.device AND s.channel = m.channel
        AND s.site = m.site AND s.asset = m.asset AND s.position = m.position
        AND s.axis IS NOT DISTINCT FROM m.axis AND s.quantity = m.quantity
        AND s.detector = m.detector AND s.band IS NOT DISTINCT FROM m.band
        AND s.feature = m.feature AND s.method = m.method
    LEFT JOIN sound AS g
        ON g.source = m.source AND g.device = m.device AND g.channel = m.channel
        AND g.site = m.site AND g.asset = m.asset AND g.position = m.position
        AND g.axis IS NOT DISTINCT FROM m.axis AND g.quantity = m.quantity
        AND g.detector = m.detector AND g.band IS NOT DISTINCT FROM m.band
        AND g.feature = m.feature AND g.method = m.method
),
runs AS (
    SELECT
        stream_id, reason,
        coalesce(max(ts) > max(sound_at), true) AS still,
        min(ts) FILTER (WHERE sound_at IS NULL OR ts > sound_at) AS run_from,
        min(ts) FILTER (WHERE lately) AS lately_from, max(ts) AS last_at,
        count(*) FILTER (WHERE sound_at IS NULL OR ts > sound_at) AS run,
        count(*) FILTER (WHERE lately) AS recent
    FROM joined
    GROUP BY stream_id, reason
),
-- A mounting is one thing, whatever its channels send.
told AS (
    SELECT
        reason, CASE WHEN reason <> 'provisional-mounting' THEN stream_id END AS stream_id,
        s.source, s.device, bool_or(still) AS still,
        min(CASE WHEN still THEN run_from ELSE lately_from END) AS since, max(last_at) AS last_at,
        sum(CASE WHEN still THEN run ELSE recent END)::BIGINT AS readings
    FROM runs AS r
    JOIN streams AS s USING (stream_id)
    WHERE still OR lately_from IS NOT NULL
    GROUP BY ALL
)
SELECT
    reason AS check_code, stream_id, source, device, since,
    CASE WHEN NOT still THEN last_at END AS until,
    'distrust' AS effect,
    readings || CASE readings WHEN 1 THEN ' reading' ELSE ' readings' END
        || ' marked so, the last at ' || time_text(last_at) AS evidence
FROM told;
