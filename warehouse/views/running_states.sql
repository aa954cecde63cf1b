-- purpose: the running state at every vibration and temperature reading (rule S1).
-- grain: one row a reading; an earlier take at the same stop and time is left out (rule R4).
-- columns: stream_id, series_id, ts (UTC), day (site-local), value, resolution (canonical unit
--          of the series), quality, reason, state (steady, transient, stopped, unknown; a temperature
--          is transient for some time after greasing, rule J13),
--          speed (/min of the reference shaft; null without evidence), bin (operating bin; null
--          where the machine runs at several speeds and none is known).
-- depends: readings_current, streams, stream_key, train_key, temperature_mutes, running_moments
-- materialise: yes
CREATE OR REPLACE VIEW running_states AS
WITH placed AS (
    SELECT
        stream_key(source, device, channel, site, asset, position, axis, quantity, detector, band,
            feature, method) AS stream_id,
        train_key(site, asset) AS train, site, asset, quantity, method, ts, take, value, resolution, quality, reason
    FROM readings_current
    WHERE quantity IN ('velocity', 'acceleration', 'acceleration-envelope', 'displacement',
        'shaft-displacement', 'gap', 'temperature')
),
retaken AS (
    SELECT stream_id, ts, max(take) AS take
    FROM placed
    WHERE method = 'route'
    GROUP BY ALL
    HAVING count(*) > 1
),
mutes AS (
    SELECT site, asset, member, list({since: muted_from, until: muted_until}) AS mutes
    FROM temperature_mutes
    GROUP BY ALL
)
SELECT
    p.stream_id, s.series_id, p.ts, m.day, p.value, p.resolution, p.quality, p.reason,
    CASE
        WHEN p.quantity <> 'temperature' THEN m.state
        WHEN len(list_filter(t.mutes, lambda mute: p.ts >= mute.since AND p.ts < mute.until)) > 0
            THEN 'transient'
        ELSE m.warm_state
    END AS state,
    m.speed, m.bin
FROM placed AS p
JOIN streams AS s ON s.stream_id = p.stream_id
JOIN running_moments AS m ON m.train = p.train AND m.ts = p.ts
LEFT JOIN mutes AS t ON t.site = p.site AND t.asset = p.asset AND t.member = s.member
ANTI JOIN retaken AS r ON r.stream_id = p.stream_id AND r.ts = p.ts AND r.take > p.take;
