-- purpose: evidence of running, moment by moment (rule S1): speed where an asset has any, else
--          current, else the status tag.
-- grain: one row an asset and moment of evidence.
-- columns: train (number made of site and asset), site, asset, ts (UTC), evidence (speed, current, running-status), running,
--          speed (/min of the reference shaft; null without speed), started_at (last observed
--          start, UTC), drifting (speed not settled), stopped_since (UTC; null while running).
-- depends: readings_current, train_key, setting
-- materialise: yes
CREATE OR REPLACE VIEW running_signals AS
WITH signals AS (
    SELECT
        r.site, r.asset, r.ts, r.quantity, abs(r.value) AS value,
        abs(r.value) / coalesce(nullif(s.ratio, 0), 1) AS reference_speed,
        m.rated_speed
    FROM readings_current AS r
    LEFT JOIN points AS p ON p.site = r.site AND p.asset = r.asset AND p.position = r.position
    LEFT JOIN members AS m ON m.site = r.site AND m.asset = r.asset AND m.member = p.member
    LEFT JOIN shafts AS s ON s.site = r.site AND s.asset = r.asset AND s.shaft = p.shaft
    WHERE r.quantity IN ('speed', 'current', 'running-status')
        AND r.quality = 'good' AND r.value IS NOT NULL
),
best AS (
    SELECT
        site, asset,
        CASE WHEN bool_or(quantity = 'speed') THEN 'speed'
            WHEN bool_or(quantity = 'current') THEN 'current'
            ELSE 'running-status' END AS evidence,
        quantile_cont(value, 0.95) FILTER (WHERE quantity = 'current') AS high_current
    FROM signals
    GROUP BY ALL
),
moments AS (
    SELECT
        train_key(s.site, s.asset) AS train, s.site, s.asset, s.ts, b.evidence,
        bool_or(CASE b.evidence
            WHEN 'speed' THEN s.value > coalesce(
                setting('running_speed_share') * s.rated_speed, setting('running_speed_floor'))
            WHEN 'current' THEN s.value > setting('running_current_share') * b.high_current
            ELSE s.value >= 0.5 END) AS running,
        max(s.reference_speed) FILTER (WHERE b.evidence = 'speed') AS speed
    FROM signals AS s
    JOIN best AS b ON b.site = s.site AND b.asset = s.asset AND b.evidence = s.quantity
    GROUP BY ALL
),
ordered AS (
    SELECT
        *,
        lag(ts) OVER in_time AS previous_ts,
        lag(running) OVER in_time AS previously_running,
        lag(speed) OVER in_time AS previous_speed
    FROM moments
    WINDOW in_time AS (PARTITION BY train ORDER BY ts)
)
SELECT
    train, site, asset, ts, evidence, running, speed,
    -- A start is one only if the machine was seen at rest shortly before.
    last_value(CASE WHEN running AND NOT previously_running
        AND ts - previous_ts <= to_minutes(setting('running_evidence_minutes')::BIGINT)
        THEN ts END IGNORE NULLS) OVER so_far AS started_at,
    coalesce(running AND previously_running
        AND ts - previous_ts <= to_minutes(setting('speed_drift_minutes')::BIGINT)
        AND abs(speed - previous_speed) > setting('speed_drift_share') * previous_speed, false)
        AS drifting,
    CASE WHEN NOT running THEN
        last_value(
            CASE WHEN NOT running AND coalesce(previously_running, true) THEN ts END IGNORE NULLS)
            OVER so_far END AS stopped_since
FROM ordered
WINDOW so_far AS (PARTITION BY train ORDER BY ts ROWS UNBOUNDED PRECEDING);
