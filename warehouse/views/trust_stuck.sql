-- purpose: streams that no longer follow their machine: the same printed value again and again,
--          while the machine is not known to rest.
-- grain: one row a stream and run of one value.
-- columns: check_code, stream_id, source, device, since (UTC, the first repetition), until (UTC, the
--          last one; null: still so), effect, evidence (words).
-- depends: running_states, stream_scatter, streams, setting, number_text, unit_text, time_text
-- materialise: yes
-- kept: stream_id
CREATE OR REPLACE VIEW trust_stuck AS
WITH ordered AS (
    SELECT
        r.stream_id, r.ts, r.value, r.state,
        lag(r.value) OVER in_time AS before,
        row_number() OVER in_time AS place, count(*) OVER (PARTITION BY r.stream_id) AS readings
    FROM running_states AS r
    SEMI JOIN (SELECT stream_id FROM stream_scatter WHERE repeats > 0) AS x
        ON x.stream_id = r.stream_id
    WHERE r.state IN ('steady', 'unknown') AND r.quality = 'good' AND r.value IS NOT NULL
    WINDOW in_time AS (PARTITION BY r.stream_id ORDER BY r.ts, r.value)
),
starts AS (
    SELECT *, lead(place) OVER (PARTITION BY stream_id ORDER BY place) AS next_place
    FROM ordered
    WHERE value IS DISTINCT FROM before
),
runs AS (
    SELECT *, coalesce(next_place, readings + 1) - place AS length FROM starts
),
-- A source that repeats each value until the next one comes has long runs as a habit.
habits AS (
    SELECT stream_id, count(*) AS runs, quantile_disc(length, 0.95) AS length
    FROM runs
    GROUP BY stream_id
),
repeated AS (
    SELECT r.*, u.step, u.resolution
    FROM runs AS r
    JOIN habits AS h ON h.stream_id = r.stream_id
    JOIN stream_scatter AS u ON u.stream_id = r.stream_id
    WHERE r.length >= setting('stuck_repeats') AND h.runs >= setting('stuck_history')
        AND r.length >= setting('stuck_habit') * h.length
        -- A machine at rest reads its floor: no proof of running, and far below the usual.
        AND (r.state = 'steady' OR r.value >= setting('quiet_share') * u.value)
),
spells AS (
    SELECT
        r.stream_id, r.length, r.value, r.step, r.resolution, r.ts AS changed_at, r.next_place,
        min(o.ts) FILTER (WHERE o.place = r.place + 1) AS since, max(o.ts) AS last_at
    FROM repeated AS r
    JOIN ordered AS o
        ON o.stream_id = r.stream_id AND o.place >= r.place AND o.place < r.place + r.length
    GROUP BY ALL
)
SELECT
    'stuck' AS check_code, p.stream_id, s.source, s.device, p.since,
    CASE WHEN p.next_place IS NOT NULL THEN p.last_at END AS until, 'distrust' AS effect,
    number_text(p.value) || ' ' || unit_text(s.unit) || ' printed ' || p.length
        || ' times in a row since ' || time_text(p.changed_at) || '; it usually moves by '
        || number_text(p.step) || ' and is printed to ' || format('{:g}', p.resolution) AS evidence
FROM spells AS p
JOIN streams AS s ON s.stream_id = p.stream_id;
