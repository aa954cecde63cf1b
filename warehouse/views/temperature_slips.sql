-- purpose: steps of temperatures from one reading to the next to what a slip between Cel and degF
--          would make of them (rule J10), that stay there.
-- grain: one row a stream and step.
-- columns: stream_id, since, until (UTC, first and last slipped reading; until is null while it is
--          so), usual, wrong, value (before, as a slip would read, as read: Cel), slip (high, low),
--          runs (the machine is seen running meanwhile).
-- depends: running_states, streams, stream_references, setting
-- materialise: yes
-- kept: stream_id
CREATE OR REPLACE VIEW temperature_slips AS
WITH sound AS (
    SELECT r.stream_id, r.ts, r.day, r.value, r.state, s.method
    FROM running_states AS r
    JOIN streams AS s ON s.stream_id = r.stream_id AND s.quantity = 'temperature'
    WHERE r.state IN ('steady', 'unknown') AND r.quality = 'good' AND r.value IS NOT NULL
),
daily AS (
    SELECT stream_id, day, method, median(value) AS value FROM sound GROUP BY ALL
),
before AS (
    SELECT
        stream_id, day, method, count(*) OVER recent AS days,
        median(value) OVER recent AS usual, stddev_samp(value) OVER recent AS deviation
    FROM daily
    WINDOW recent AS (
        PARTITION BY stream_id ORDER BY day ROWS BETWEEN 30 PRECEDING AND 1 PRECEDING)
),
referred AS (
    SELECT stream_id, day, usual, greatest(setting('slip_kelvin'), 2 * deviation) AS spread
    FROM before
    WHERE days >= CASE WHEN method = 'route' THEN setting('slip_visits')
        ELSE setting('slip_days') END
),
compared AS (
    SELECT
        c.*, f.usual, f.spread,
        CASE
            WHEN abs(c.value - (1.8 * f.usual + 32)) <= 1.8 * f.spread
                AND abs(c.value - f.usual) > 2 * f.spread THEN 'high'
            WHEN abs(c.value - (f.usual - 32) / 1.8) <= f.spread
                AND abs(c.value - f.usual) > 2 * f.spread THEN 'low'
        END AS slip
    FROM sound AS c
    JOIN referred AS f ON f.stream_id = c.stream_id AND f.day = c.day
),
-- Few streams are ever where a slip would put them: the rest is not looked at.
ordered AS (
    SELECT
        c.*, abs(lag(c.value) OVER in_time - c.usual) <= c.spread AS from_usual,
        lead(c.slip) OVER in_time AS next_slip
    FROM compared AS c
    SEMI JOIN (SELECT stream_id FROM compared WHERE slip IS NOT NULL) AS x
        ON x.stream_id = c.stream_id
    WINDOW in_time AS (PARTITION BY c.stream_id ORDER BY c.ts, c.value)
),
starts AS (
    SELECT * FROM ordered
    WHERE slip IS NOT NULL AND from_usual AND (method = 'route' OR next_slip = slip)
),
followed AS (
    SELECT
        a.stream_id, a.ts AS since, a.usual, a.spread, a.slip, o.ts, o.value, o.state,
        CASE a.slip WHEN 'high' THEN 1.8 * a.usual + 32 ELSE (a.usual - 32) / 1.8 END AS wrong
    FROM starts AS a
    JOIN ordered AS o ON o.stream_id = a.stream_id AND o.ts >= a.ts
),
backs AS (
    SELECT stream_id, since,
        min(ts) FILTER (WHERE abs(value - usual) < abs(value - wrong)) AS back_at
    FROM followed
    GROUP BY ALL
),
slipped AS (
    SELECT
        f.stream_id, f.since, f.usual, f.spread, f.slip, f.wrong, median(f.value) AS value,
        CASE WHEN b.back_at IS NOT NULL THEN max(f.ts) END AS until,
        avg(CASE WHEN f.state = 'steady' THEN 1 ELSE 0 END) AS steady
    FROM followed AS f
    JOIN backs AS b ON b.stream_id = f.stream_id AND b.since = f.since
        AND (b.back_at IS NULL OR f.ts < b.back_at)
    -- The way back from a slip is a step as well, and none.
    WHERE NOT EXISTS (SELECT 1 FROM backs AS q WHERE q.stream_id = f.stream_id
        AND q.since < f.since AND q.back_at = f.since)
    GROUP BY f.stream_id, f.since, f.usual, f.spread, f.slip, f.wrong, b.back_at
),
-- Does the machine run meanwhile?
shaking AS (
    SELECT DISTINCT a.stream_id, a.since
    FROM slipped AS a
    JOIN streams AS s ON s.stream_id = a.stream_id
    JOIN streams AS t ON t.site = s.site AND t.asset = s.asset AND t.position = s.position
    JOIN stream_references AS f ON f.stream_id = t.stream_id
    JOIN running_states AS r ON r.stream_id = t.stream_id AND r.day = f.day AND r.ts >= a.since
        AND r.ts <= least(a.until, a.since + INTERVAL 1 DAY)
    WHERE r.value > 0
    GROUP BY a.stream_id, a.since, t.stream_id
    HAVING abs(median(ln(r.value / f.usual))) <= ln(setting('slip_still'))
)
SELECT
    p.stream_id, p.since, p.until, p.usual, p.slip, p.wrong, p.value,
    p.steady >= 0.5 OR k.stream_id IS NOT NULL AS runs
FROM slipped AS p
LEFT JOIN shaking AS k ON k.stream_id = p.stream_id AND k.since = p.since;
