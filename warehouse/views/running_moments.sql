-- purpose: the running state of each machine train at the moments it was read (rule S1).
-- grain: one row a train and moment of a vibration or temperature reading.
-- columns: train (number made of site and asset, the same every time), site, asset, ts (UTC), day (site-local), state (of vibration: steady, transient, stopped,
--          unknown), warm_state (of temperature, which settles later), speed (/min of the reference
--          shaft; null without evidence), bin (operating bin; null where the machine runs at several
--          speeds and none is known).
-- depends: readings_current, running_signals, load_signals, bin_references, bin_of, train_key, setting
-- materialise: yes
CREATE OR REPLACE VIEW running_moments AS
WITH signals AS (
    SELECT train, ts, running, started_at, drifting, speed FROM running_signals
),
moments AS (
    SELECT DISTINCT train_key(site, asset) AS train, site, asset, ts
    FROM readings_current
    WHERE quantity IN ('velocity', 'acceleration', 'acceleration-envelope', 'displacement',
        'shaft-displacement', 'gap', 'temperature')
),
before AS (
    SELECT m.*, g.ts AS before_at, g AS before_signal
    FROM moments AS m
    ASOF LEFT JOIN signals AS g ON g.train = m.train AND m.ts >= g.ts
),
-- A device may stamp its speed moments after its vibration: the nearer signal counts.
nearest AS (
    SELECT m.* EXCLUDE (before_at, before_signal),
        CASE
            WHEN g.ts - m.ts <= to_minutes(setting('running_evidence_after_minutes')::BIGINT)
                AND (before_at IS NULL OR g.ts - m.ts < m.ts - before_at)
            THEN g ELSE before_signal
        END AS signal
    FROM before AS m
    ASOF LEFT JOIN signals AS g ON g.train = m.train AND m.ts <= g.ts
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
    ASOF LEFT JOIN load_signals AS l ON l.train = n.train AND n.ts >= l.ts
)
SELECT
    train, site, asset, ts, CAST(timezone(coalesce(z.time_zone, 'UTC'), ts) AS DATE) AS day,
    CASE
        WHEN NOT proven THEN 'unknown'
        WHEN NOT running THEN 'stopped'
        WHEN drifting OR ts - started_at < to_minutes(setting('transient_minutes')::BIGINT)
            THEN 'transient'
        ELSE 'steady'
    END AS state,
    CASE
        WHEN NOT proven THEN 'unknown'
        WHEN NOT running THEN 'stopped'
        WHEN drifting
            OR ts - started_at < to_minutes(setting('transient_temperature_minutes')::BIGINT)
            THEN 'transient'
        ELSE 'steady'
    END AS warm_state,
    speed,
    CASE
        WHEN proven AND speed > 0
            THEN bin_of(speed, b.reference_speed, CASE WHEN load_known THEN load END)
        WHEN NOT b.variable
            THEN bin_of(b.reference_speed, b.reference_speed, CASE WHEN load_known THEN load END)
    END AS bin
FROM matched
JOIN bin_references AS b USING (site, asset)
LEFT JOIN sites AS z USING (site);
