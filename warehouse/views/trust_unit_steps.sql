-- purpose: streams that step by the factor of a slip of unit (rule J10) from one reading to the
--          next and stay there, while what else the channel and the place read does not speak
--          against it. Low is the dangerous direction: it looks healthy.
-- grain: one row a stream and step.
-- columns: check_code, stream_id, source, device, since, until (UTC, first and last slipped
--          reading; until is null while it is so), effect, evidence (words).
-- depends: running_states, stream_references, streams, setting, number_text, unit_text
-- materialise: yes
-- kept: stream_id
CREATE OR REPLACE VIEW trust_unit_steps AS
WITH compared AS (
    SELECT r.stream_id, r.ts, r.day, r.value, r.resolution, r.state, f.usual, f.usual_resolution
    FROM running_states AS r
    JOIN stream_references AS f ON f.stream_id = r.stream_id AND f.day = r.day
    WHERE r.state IN ('steady', 'unknown') AND r.value > 0
        AND (r.quality = 'good' OR r.reason = 'implausible')
),
-- Few readings are ever a fifth or five times the usual: the rest is not held against slips.
strange AS (
    SELECT c.stream_id, c.ts, c.value, u.factor, u.slip
    FROM compared AS c
    JOIN streams AS s ON s.stream_id = c.stream_id
    JOIN unit_slips AS u ON u.quantity = s.quantity
        AND abs(ln(c.value / c.usual / u.factor)) <= ln(setting('slip_tolerance'))
    WHERE c.value < 0.2 * c.usual OR c.value > 5 * c.usual
),
suspects AS (
    SELECT DISTINCT stream_id FROM strange
),
ordered AS (
    SELECT
        c.*, s.quantity, s.method, u.factor, u.slip,
        abs(ln(lag(c.value / c.usual) OVER in_time)) <= ln(setting('slip_still')) AS from_usual,
        lead(u.factor) OVER in_time AS next_factor
    FROM compared AS c
    SEMI JOIN suspects AS x ON x.stream_id = c.stream_id
    JOIN streams AS s ON s.stream_id = c.stream_id
    LEFT JOIN strange AS u ON u.stream_id = c.stream_id AND u.ts = c.ts AND u.value = c.value
    WINDOW in_time AS (PARTITION BY c.stream_id ORDER BY c.ts, c.value)
),
starts AS (
    SELECT * FROM ordered
    WHERE factor IS NOT NULL AND from_usual AND (method = 'route' OR next_factor = factor)
),
spans AS (
    SELECT
        a.stream_id, a.ts AS since, a.usual, a.factor, a.slip,
        min(o.ts) FILTER (WHERE abs(ln(o.value / a.usual)) <= abs(ln(a.factor)) / 2) AS back_at
    FROM starts AS a
    JOIN ordered AS o ON o.stream_id = a.stream_id AND o.ts > a.ts
    GROUP BY ALL
    UNION ALL
    SELECT stream_id, ts, usual, factor, slip, NULL
    FROM starts
    QUALIFY row_number() OVER (PARTITION BY stream_id ORDER BY ts DESC) = 1
),
-- The way back from a slip is a step as well, and none.
steps AS (
    SELECT p.stream_id, p.since, p.usual, p.factor, p.slip, max(p.back_at) AS back_at
    FROM spans AS p
    ANTI JOIN spans AS q
        ON q.stream_id = p.stream_id AND q.since < p.since AND q.back_at = p.since
    GROUP BY ALL
),
slipped AS (
    SELECT
        p.stream_id, p.since, p.usual, p.factor, p.slip,
        CASE WHEN p.back_at IS NOT NULL THEN max(o.ts) END AS until,
        median(o.value) AS value, avg(CASE WHEN o.state = 'steady' THEN 1 ELSE 0 END) AS steady,
        median(o.resolution) / any_value(o.usual_resolution)
            NOT BETWEEN 1 / setting('slip_digits') AND setting('slip_digits') AS other_digits
    FROM steps AS p
    JOIN ordered AS o ON o.stream_id = p.stream_id AND o.ts >= p.since
        AND (p.back_at IS NULL OR o.ts < p.back_at)
    GROUP BY p.stream_id, p.since, p.usual, p.factor, p.slip, p.back_at
    HAVING abs(ln(median(o.value) / p.usual / p.factor)) <= ln(setting('slip_tolerance'))
),
-- What the other quantities of the channel and the other axes of the place do meanwhile, on the
-- first day; a walk takes some hours.
neighbours AS (
    SELECT
        p.stream_id, p.since, b.stream_id AS other, b.quantity,
        b.quantity = a.quantity AS same_quantity,
        median(ln(c.value / c.usual)) AS moved
    FROM slipped AS p
    JOIN streams AS a ON a.stream_id = p.stream_id
    JOIN streams AS b
        ON b.source = a.source AND b.device = a.device AND b.site = a.site AND b.asset = a.asset
        AND b.position = a.position AND b.stream_id <> a.stream_id
        AND (b.quantity = a.quantity OR b.channel = a.channel)
    JOIN compared AS c ON c.stream_id = b.stream_id AND c.ts >= p.since - INTERVAL 10 MINUTE
        AND c.ts <= CASE WHEN a.method = 'route' THEN p.since + INTERVAL 12 HOUR
            ELSE least(p.until + INTERVAL 10 MINUTE, p.since + INTERVAL 1 DAY) END
    GROUP BY ALL
),
spoken AS (
    SELECT
        n.stream_id, n.since, n.same_quantity,
        abs(n.moved) <= ln(setting('slip_still')) AS still,
        bool_or(abs(n.moved - ln(u.factor)) <= ln(setting('slip_tolerance'))) AS slipped,
        any_value(abs(n.moved - ln(p.value / p.usual)) <= ln(setting('slip_alike'))) AS alike
    FROM neighbours AS n
    JOIN slipped AS p ON p.stream_id = n.stream_id AND p.since = n.since
    JOIN unit_slips AS u ON u.quantity = n.quantity
    GROUP BY n.stream_id, n.since, n.same_quantity, n.other, n.moved
),
heard AS (
    SELECT
        stream_id, since,
        count(*) FILTER (WHERE NOT same_quantity AND still) AS mates_still,
        count(*) FILTER (WHERE NOT same_quantity AND NOT still AND NOT slipped) AS mates_moved,
        count(*) FILTER (WHERE same_quantity AND still) AS axes_still,
        count(*) FILTER (WHERE same_quantity AND alike) AS axes_alike
    FROM spoken
    GROUP BY ALL
),
weighed AS (
    SELECT
        p.*, s.source, s.device, s.quantity, s.unit,
        coalesce(h.mates_still, 0) AS mates_still, coalesce(h.axes_still, 0) AS axes_still,
        coalesce(h.axes_alike, 0) AS axes_alike,
        CASE
            -- The channel's other quantity went its own way: loose, stopped, or truly worse.
            WHEN h.mates_moved > 0 THEN NULL
            WHEN p.factor < 1 THEN CASE WHEN p.steady >= 0.5 OR h.mates_still > 0
                OR s.quantity = 'velocity' AND p.value >= setting('quiet_velocity')
                THEN 'distrust' END
            -- Nothing shakes a thousand times more; ten times more acceleration may be a bearing.
            WHEN p.factor >= 1000 THEN 'distrust'
            WHEN s.quantity NOT IN ('acceleration', 'acceleration-envelope') AND (h.mates_still > 0
                OR h.axes_still > 0 OR h.axes_alike > 0 OR p.other_digits) THEN 'distrust'
            ELSE 'note'
        END AS effect
    FROM slipped AS p
    JOIN streams AS s ON s.stream_id = p.stream_id
    LEFT JOIN heard AS h ON h.stream_id = p.stream_id AND h.since = p.since
)
SELECT
    'unit-slip' AS check_code, stream_id, source, device, since, until, effect,
    'from ' || number_text(usual) || ' to ' || number_text(value) || ' ' || unit_text(unit)
        || ' at one reading, ' || number_text(greatest(value / usual, usual / value)) || ' times '
        || CASE WHEN factor < 1 THEN 'lower' ELSE 'higher' END || '; ' || slip || ' give '
        || number_text(greatest(factor, 1 / factor))
        || CASE WHEN mates_still > 0
            THEN '; the other quantity of the channel did not move' ELSE '' END
        || CASE WHEN axes_alike > 0 THEN '; other axes moved alike' ELSE '' END
        || CASE WHEN axes_still > 0 THEN '; other axes did not move' ELSE '' END
        || CASE WHEN other_digits THEN '; printed with other decimals' ELSE '' END
        || CASE WHEN factor > 1 AND until IS NULL
            THEN '; or what was read before was too low' ELSE '' END
        AS evidence
FROM weighed
WHERE effect IS NOT NULL;
