-- purpose: the running state at every vibration and temperature reading (rule S1).
-- grain: one row a reading; an earlier take at the same stop and time is left out (rule R4).
-- columns: stream_id, series_id, ts (UTC), day (site-local), value, resolution (canonical unit
--          of the series), quality, reason, state (steady, transient, stopped, unknown; a temperature
--          is transient for some time after greasing, rule J13),
--          speed (/min of the reference shaft; null without evidence), bin (operating bin; null
--          where the machine runs at several speeds and none is known).
-- depends: readings_current, streams, temperature_mutes, running_signals, load_signals, bin_references, bin_of, setting
-- materialise: yes
CREATE OR REPLACE VIEW running_states AS
WITH placed AS (
    SELECT
        s.stream_id, s.series_id, s.site, s.asset, s.member, s.quantity, s.time_zone,
        r.ts, r.value, r.resolution, r.quality, r.reason
    FROM (
        SELECT *
        FROM readings_current
        WHERE quantity IN ('velocity', 'acceleration', 'acceleration-envelope', 'displacement',
            'shaft-displacement', 'gap', 'temperature')
    ) AS r
    JOIN streams AS s
        ON s.source = r.source AND s.device = r.device AND s.channel = r.channel
        AND s.site = r.site AND s.asset = r.asset AND s.position = r.position
        AND s.axis IS NOT DISTINCT FROM r.axis AND s.quantity = r.quantity
        AND s.detector = r.detector AND s.band IS NOT DISTINCT FROM r.band
        AND s.feature = r.feature AND s.method = r.method
    ANTI JOIN (
        SELECT source, device, channel, quantity, detector, band, feature, ts, max(take) AS take
        FROM readings_current
        WHERE method = 'route'
        GROUP BY ALL
        HAVING count(*) > 1
    ) AS retaken
        ON retaken.source = r.source AND retaken.device = r.device
        AND retaken.channel = r.channel AND retaken.ts = r.ts
        AND retaken.quantity = r.quantity AND retaken.detector = r.detector
        AND retaken.band IS NOT DISTINCT FROM r.band AND retaken.feature = r.feature
        AND retaken.take > r.take
),
before AS (
    SELECT p.*, g.ts AS before_at, g AS before_signal
    FROM placed AS p
    ASOF LEFT JOIN running_signals AS g
        ON g.site = p.site AND g.asset = p.asset AND p.ts >= g.ts
),
-- A device may stamp its speed moments after its vibration: the nearer signal counts.
nearest AS (
    SELECT p.* EXCLUDE (before_at, before_signal),
        CASE
            WHEN g.ts - p.ts <= to_minutes(setting('running_evidence_after_minutes')::BIGINT)
                AND (before_at IS NULL OR g.ts - p.ts < p.ts - before_at)
            THEN g ELSE before_signal
        END AS signal
    FROM before AS p
    ASOF LEFT JOIN running_signals AS g
        ON g.site = p.site AND g.asset = p.asset AND p.ts <= g.ts
),
matched AS (
    SELECT
        n.* EXCLUDE (signal), signal.running AS running, signal.started_at AS started_at,
        signal.drifting AS drifting, signal.speed AS speed, l.load,
        signal.ts IS NOT NULL
            AND n.ts - signal.ts <= to_minutes(setting('running_evidence_minutes')::BIGINT)
            AS proven,
        n.ts - l.ts <= to_minutes(setting('running_evidence_minutes')::BIGINT) AS load_known
    FROM nearest AS n
    ASOF LEFT JOIN load_signals AS l
        ON l.site = n.site AND l.asset = n.asset AND n.ts >= l.ts
),
mutes AS (
    SELECT site, asset, member, list({since: muted_from, until: muted_until}) AS mutes
    FROM temperature_mutes
    GROUP BY ALL
),
greased AS (
    SELECT
        m.*,
        m.quantity = 'temperature' AND coalesce(len(list_filter(t.mutes,
            lambda mute: m.ts >= mute.since AND m.ts < mute.until)) > 0, false) AS muted
    FROM matched AS m
    LEFT JOIN mutes AS t ON t.site = m.site AND t.asset = m.asset AND t.member = m.member
)
SELECT
    stream_id, series_id, ts, CAST(timezone(time_zone, ts) AS DATE) AS day, value, resolution,
    quality, reason,
    CASE
        WHEN muted THEN 'transient'
        WHEN NOT proven THEN 'unknown'
        WHEN NOT running THEN 'stopped'
        WHEN drifting OR ts - started_at < to_minutes((CASE WHEN quantity = 'temperature'
            THEN setting('transient_temperature_minutes')
            ELSE setting('transient_minutes') END)::BIGINT) THEN 'transient'
        ELSE 'steady'
    END AS state,
    speed,
    CASE
        WHEN proven AND speed > 0
            THEN bin_of(speed, b.reference_speed, CASE WHEN load_known THEN load END)
        WHEN NOT b.variable
            THEN bin_of(b.reference_speed, b.reference_speed, CASE WHEN load_known THEN load END)
    END AS bin
FROM greased
JOIN bin_references AS b USING (site, asset);
