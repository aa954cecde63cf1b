-- purpose: days of a clock change (daylight saving) that came twice, an hour apart: each value at
--          two times, or many readings of the day replaced by others.
-- grain: one row a stream and such a day of the days looked at.
-- columns: check_code, stream_id, source, device, since, until (UTC, first and last reading of the
--          day; until is null while it is recent), effect, evidence (words).
-- depends: running_states, streams, setting
-- materialise: when asked
CREATE OR REPLACE VIEW trust_day_twice AS
WITH zones AS (
    SELECT DISTINCT time_zone FROM streams
),
changes AS (
    SELECT time_zone, day
    FROM (
        SELECT time_zone, CAST(unnest(generate_series(
            CAST(getvariable('as_of') AS TIMESTAMPTZ)::DATE
                - setting('day_twice_days')::INTEGER,
            CAST(getvariable('as_of') AS TIMESTAMPTZ)::DATE, INTERVAL 1 DAY)) AS DATE) AS day
        FROM zones
    )
    WHERE timezone(time_zone, CAST(day + 1 AS TIMESTAMP))
        - timezone(time_zone, CAST(day AS TIMESTAMP)) <> INTERVAL 24 HOUR
),
around AS (
    SELECT r.stream_id, r.ts, r.day, r.value, c.day AS change_day
    FROM running_states AS r
    JOIN streams AS s ON s.stream_id = r.stream_id
    JOIN changes AS c ON c.time_zone = s.time_zone AND abs(r.day - c.day) <= 3
),
repeated AS (
    SELECT
        a.stream_id, a.change_day,
        count(*) FILTER (WHERE a.day = a.change_day AND a.value = b.value) AS twice,
        count(*) FILTER (WHERE a.day = a.change_day) AS pairs,
        count(*) FILTER (WHERE a.day <> a.change_day AND a.value = b.value) AS usually,
        count(*) FILTER (WHERE a.day <> a.change_day) AS usual_pairs
    FROM around AS a
    JOIN around AS b ON b.stream_id = a.stream_id AND b.change_day = a.change_day
        AND b.ts = a.ts + INTERVAL 1 HOUR
    GROUP BY ALL
),
replaced AS (
    SELECT s.stream_id, c.day AS change_day,
        count(*) FILTER (WHERE CAST(timezone(s.time_zone, r.ts) AS DATE) = c.day) AS revised,
        count(*) FILTER (WHERE CAST(timezone(s.time_zone, r.ts) AS DATE) <> c.day) AS revised_around
    FROM superseded AS o
    JOIN readings AS r ON r.package = o.package AND r.row = o.row
    JOIN streams AS s
        ON s.source = r.source AND s.device = r.device AND s.channel = r.channel
        AND s.site = r.site AND s.asset = r.asset AND s.position = r.position
        AND s.axis IS NOT DISTINCT FROM r.axis AND s.quantity = r.quantity
        AND s.detector = r.detector AND s.band IS NOT DISTINCT FROM r.band
        AND s.feature = r.feature AND s.method = r.method
    JOIN changes AS c ON c.time_zone = s.time_zone
        AND abs(CAST(timezone(s.time_zone, r.ts) AS DATE) - c.day) <= 1
    WHERE o.why = 'revision'
    GROUP BY ALL
),
told AS (
    SELECT stream_id, change_day,
        twice || ' of ' || pairs || ' values stand twice, an hour apart' AS evidence
    FROM repeated
    WHERE twice >= setting('day_twice_readings') AND twice >= setting('day_twice_share') * pairs
        AND usually < setting('day_twice_share') / 2 * greatest(usual_pairs, 1)
    UNION ALL
    SELECT stream_id, change_day,
        revised || ' readings were replaced by others for the same time, none of the days around'
    FROM replaced
    WHERE revised >= setting('day_twice_readings') AND revised_around = 0
)
SELECT
    'day-twice' AS check_code, t.stream_id, any_value(s.source) AS source,
    any_value(s.device) AS device, min(a.ts) AS since,
    CASE WHEN max(a.ts) <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
        - to_days(setting('trust_recent_days')::INTEGER) THEN max(a.ts) END AS until,
    'note' AS effect,
    'on ' || t.change_day || ', when the clocks changed, ' || any_value(t.evidence) AS evidence
FROM told AS t
JOIN streams AS s ON s.stream_id = t.stream_id
JOIN around AS a ON a.stream_id = t.stream_id AND a.day = t.change_day
GROUP BY t.stream_id, t.change_day;
