-- purpose: two axes of one device that exchange their levels at one instant: the sensor was turned
--          or its channels were swapped. A real change does not go to the other's former level.
-- grain: one row a stream of such a pair.
-- columns: check_code, stream_id, source, device, since, until (UTC; until is null while it is so),
--          effect, evidence (words).
-- depends: running_states, stream_days, stream_references, streams, setting, number_text, unit_text
-- materialise: yes
-- kept: stream_id
CREATE OR REPLACE VIEW trust_axes AS
WITH pairs AS MATERIALIZED (
    SELECT a.stream_id AS a_id, b.stream_id AS b_id
    FROM streams AS a
    JOIN streams AS b
        ON b.source = a.source AND b.device = a.device AND b.site = a.site AND b.asset = a.asset
        AND b.position = a.position AND b.quantity = a.quantity AND b.detector = a.detector
        AND b.band IS NOT DISTINCT FROM a.band AND b.feature = a.feature AND b.method = a.method
        AND b.stream_id > a.stream_id AND b.axis <> a.axis
),
levels AS (
    SELECT
        d.stream_id, d.day, d.first_at, ln(d.value) AS level,
        ln(lag(d.value) OVER in_time) AS before, ln(lag(d.value, 2) OVER in_time) AS long_before,
        lag(d.first_at) OVER in_time AS before_at, ln(r.usual) AS usual,
        median(ln(d.value)) OVER (in_time ROWS BETWEEN CURRENT ROW AND 2 FOLLOWING) AS after,
        count(*) OVER (in_time ROWS BETWEEN CURRENT ROW AND 2 FOLLOWING) AS days
    FROM stream_days AS d
    SEMI JOIN (SELECT unnest([a_id, b_id]) AS stream_id FROM pairs) AS p
        ON p.stream_id = d.stream_id
    LEFT JOIN stream_references AS r ON r.stream_id = d.stream_id AND r.day = d.day
    WHERE d.value IS NOT NULL
    WINDOW in_time AS (PARTITION BY d.stream_id ORDER BY d.day)
),
-- Joined to its pair first: by the day alone every stream would meet every other.
sided AS MATERIALIZED (
    SELECT p.a_id, p.b_id, a.*
    FROM pairs AS p
    JOIN levels AS a ON a.stream_id = p.a_id
    WHERE a.days = 3
),
together AS (
    SELECT
        a.a_id, a.b_id, a.day,
        least(a.before_at, b.before_at) AS before_at,
        a.usual AS a_usual, b.usual AS b_usual, a.after AS a_after, b.after AS b_after,
        greatest(abs(a.level - b.usual), abs(b.level - a.usual)) AS level_off,
        greatest(abs(a.after - b.usual), abs(b.after - a.usual)) AS after_off,
        greatest(abs(a.before - a.usual), abs(b.before - b.usual)) AS before_off,
        greatest(abs(a.long_before - a.usual), abs(b.long_before - b.usual)) AS long_before_off,
        least(ln(setting('exchange_tolerance')), abs(a.usual - b.usual) / 3) AS tolerance
    FROM sided AS a
    JOIN levels AS b ON b.stream_id = a.b_id AND b.day = a.day
    WHERE abs(a.usual - b.usual) >= ln(setting('exchange_gap')) AND b.days = 3
),
-- Both lie at the other's former level then, nearer than a third of the way between. The day
-- before may be half of each.
found AS (
    SELECT * FROM together
    WHERE level_off <= tolerance AND after_off <= tolerance
        AND (before_off <= tolerance OR long_before_off <= tolerance)
),
exchanged AS (
    SELECT f.*, min(r.ts) AS since
    FROM found AS f
    JOIN running_states AS r
        ON r.stream_id = f.a_id AND r.ts >= f.before_at AND r.day <= f.day AND r.value > 0
        AND abs(ln(r.value) - f.b_usual) < abs(ln(r.value) - f.a_usual)
    GROUP BY ALL
),
spans AS (
    SELECT
        e.a_id, e.b_id, e.day, e.since, e.a_usual, e.b_usual, e.a_after, e.b_after,
        min(a.day) FILTER (WHERE abs(a.level - e.a_usual) < abs(a.level - e.b_usual)
            AND abs(b.level - e.b_usual) < abs(b.level - e.a_usual)) AS back_day
    FROM exchanged AS e
    JOIN levels AS a ON a.stream_id = e.a_id AND a.day >= e.day
    JOIN levels AS b ON b.stream_id = e.b_id AND b.day = a.day
    GROUP BY ALL
),
-- The way back is an exchange as well, and none.
kept AS (
    SELECT p.*
    FROM spans AS p
    ANTI JOIN spans AS q
        ON q.a_id = p.a_id AND q.b_id = p.b_id AND q.day < p.day
        AND (q.back_day IS NULL OR q.back_day >= p.day - 1)
),
ended AS (
    SELECT k.*, a.first_at - INTERVAL 1 MICROSECOND AS until
    FROM kept AS k
    LEFT JOIN levels AS a ON a.stream_id = k.a_id AND a.day = k.back_day
)
SELECT
    'axes-exchanged' AS check_code, s.stream_id, s.source, s.device, e.since, e.until,
    'distrust' AS effect,
    s.axis || ' went from ' || number_text(exp(own)) || ' to ' || number_text(exp(own_after)) || ' '
        || unit_text(s.unit) || ' and ' || t.axis || ' from ' || number_text(exp(other)) || ' to '
        || number_text(exp(other_after)) || ' at once' AS evidence
FROM (
    SELECT a_id AS own_id, b_id AS other_id, since, until, a_usual AS own, b_usual AS other,
        a_after AS own_after, b_after AS other_after FROM ended
    UNION ALL
    SELECT b_id, a_id, since, until, b_usual, a_usual, b_after, a_after FROM ended
) AS e
JOIN streams AS s ON s.stream_id = e.own_id
JOIN streams AS t ON t.stream_id = e.other_id;
