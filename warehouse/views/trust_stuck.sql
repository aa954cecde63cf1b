-- purpose: streams that no longer follow their machine: the same printed value again and again
--          (`stuck`), or hardly any scatter left (`flat`), while the machine is not known to rest.
-- grain: one row a stream and run of one value; one row a stream that is flat now.
-- columns: check_code, stream_id, source, device, since (UTC; stuck: the first repetition), until
--          (UTC, the last one; null: still so), effect, evidence (words).
-- depends: running_states, streams, setting, number_text, unit_text, time_text
-- materialise: yes
CREATE OR REPLACE VIEW trust_stuck AS
WITH ordered AS MATERIALIZED (
    SELECT
        stream_id, ts, value, resolution, state,
        abs(value - lag(value) OVER in_time) AS step,
        row_number() OVER in_time AS place
    FROM running_states
    WHERE state IN ('steady', 'unknown') AND quality = 'good' AND value IS NOT NULL
    WINDOW in_time AS (PARTITION BY stream_id ORDER BY ts, value)
),
-- Only where the last digit is much finer than the usual step is a repetition odd.
usual AS (
    SELECT
        stream_id, median(value) AS value, count(*) AS readings,
        median(step) FILTER (WHERE step > 0) AS step,
        coalesce(median(resolution), min(step) FILTER (WHERE step > 0)) AS resolution
    FROM ordered
    GROUP BY stream_id
    HAVING median(step) FILTER (WHERE step > 0) >= setting('stuck_scatter')
        * coalesce(median(resolution), min(step) FILTER (WHERE step > 0))
),
starts AS (
    SELECT o.*, lead(o.place) OVER (PARTITION BY o.stream_id ORDER BY o.place) AS next_place
    FROM ordered AS o
    SEMI JOIN usual AS u ON u.stream_id = o.stream_id
    WHERE o.step IS NULL OR o.step > 0
),
runs AS (
    SELECT
        s.*, coalesce(s.next_place, u.readings + 1) - s.place AS length,
        u.step AS usual_step, u.resolution AS usual_resolution, u.value AS usual_value
    FROM starts AS s
    JOIN usual AS u ON u.stream_id = s.stream_id
),
-- A source that repeats each value until the next one comes has long runs as a habit.
habits AS (
    SELECT stream_id, count(*) AS runs, quantile_disc(length, 0.95) AS length
    FROM runs
    GROUP BY stream_id
),
repeated AS (
    SELECT r.*
    FROM runs AS r
    JOIN habits AS h ON h.stream_id = r.stream_id
    WHERE r.length >= setting('stuck_repeats') AND h.runs >= setting('stuck_history')
        AND r.length >= setting('stuck_habit') * h.length
        -- A machine at rest reads its floor: no proof of running, and far below the usual.
        AND (r.state = 'steady' OR r.value >= setting('quiet_share') * r.usual_value)
),
spells AS (
    SELECT
        r.stream_id, r.length, r.value, r.usual_step, r.usual_resolution, r.ts AS changed_at,
        min(o.ts) FILTER (WHERE o.place = r.place + 1) AS since, max(o.ts) AS last_at,
        r.next_place IS NULL AS still
    FROM repeated AS r
    JOIN ordered AS o
        ON o.stream_id = r.stream_id AND o.place >= r.place AND o.place < r.place + r.length
    GROUP BY ALL
),
blocks AS (
    SELECT
        o.stream_id, (u.readings - o.place) // setting('flat_readings')::BIGINT AS back,
        median(o.step) AS step, median(o.value) AS value, min(o.ts) AS since,
        bool_and(o.state = 'steady') AS steady
    FROM ordered AS o
    JOIN usual AS u ON u.stream_id = o.stream_id
    WHERE o.step IS NOT NULL
    GROUP BY ALL
    HAVING count(*) >= setting('flat_readings')
),
-- The present run of quiet blocks is compared with what was before it.
broken AS (
    SELECT stream_id, min(back) AS back
    FROM (SELECT *, median(step) OVER (PARTITION BY stream_id) AS usual_step FROM blocks)
    WHERE step > setting('flat_share') * usual_step
    GROUP BY stream_id
),
flat AS (
    SELECT
        b.stream_id, any_value(b.step) FILTER (WHERE b.back = 0) AS step,
        min(b.step) FILTER (WHERE b.back >= k.back) AS least_step,
        min(b.since) FILTER (WHERE b.back < k.back) AS since,
        bool_and(b.steady OR b.value >= setting('quiet_share') * u.value)
            FILTER (WHERE b.back < k.back) AS running
    FROM blocks AS b
    JOIN broken AS k ON k.stream_id = b.stream_id
    JOIN usual AS u ON u.stream_id = b.stream_id
    GROUP BY b.stream_id
    HAVING count(*) FILTER (WHERE b.back >= k.back) >= setting('flat_blocks')
)
SELECT
    'stuck' AS check_code, p.stream_id, s.source, s.device, p.since,
    CASE WHEN NOT p.still THEN p.last_at END AS until, 'distrust' AS effect,
    number_text(p.value) || ' ' || unit_text(s.unit) || ' printed ' || p.length
        || ' times in a row since ' || time_text(p.changed_at) || '; it usually moves by '
        || number_text(p.usual_step) || ' and is printed to ' || format('{:g}', p.usual_resolution)
        AS evidence
FROM spells AS p
JOIN streams AS s ON s.stream_id = p.stream_id
UNION ALL
SELECT
    'flat', f.stream_id, s.source, s.device, f.since, NULL, 'note',
    'the last ' || setting('flat_readings')::INTEGER || ' readings move by '
        || format('{:.3g}', f.step) || ' ' || unit_text(s.unit) || ' (median), '
        || format('{:.3g}', f.least_step) || ' in its quietest time before'
FROM flat AS f
JOIN streams AS s ON s.stream_id = f.stream_id
-- What is stuck is told as that.
ANTI JOIN (SELECT stream_id FROM spells WHERE still) AS p ON p.stream_id = f.stream_id
WHERE f.running AND f.step <= setting('flat_share') * f.least_step;
