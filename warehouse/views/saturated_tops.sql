-- purpose: the ends of ranges that streams have reached: the declared one, or one that nobody
--          declared, where one highest value is reached again and again and hardly ever come near
--          from below.
-- grain: one row a stream and range.
-- columns: stream_id, since, last_at (UTC, first and last reading at the top), at_least (unit of the
--          series: only readings from there on are meant), evidence (words).
-- depends: running_states, streams, setting, number_text, unit_text
-- materialise: yes
-- kept: stream_id
CREATE OR REPLACE VIEW saturated_tops AS
WITH sound AS (
    SELECT stream_id, ts, value, resolution
    FROM running_states
    WHERE quality = 'good' AND value IS NOT NULL AND state <> 'stopped'
),
tops AS (
    SELECT
        stream_id, max(value) AS value, avg(value) AS usual_value, min(resolution) AS resolution,
        stddev_samp(value) AS spread
    FROM sound
    GROUP BY stream_id
),
near AS (
    SELECT
        t.stream_id, any_value(t.value) AS value, any_value(t.usual_value) AS usual_value,
        any_value(m.unit) AS unit,
        count(*) FILTER (WHERE s.value = t.value) AS at_top,
        count(DISTINCT CAST(s.ts AS DATE)) FILTER (WHERE s.value = t.value) AS days,
        count(*) FILTER (WHERE s.value < t.value) AS below,
        min(s.ts) FILTER (WHERE s.value = t.value) AS since,
        max(s.ts) FILTER (WHERE s.value = t.value) AS last_at
    FROM tops AS t
    JOIN sound AS s ON s.stream_id = t.stream_id
        AND s.value >= t.value - setting('saturated_near') * t.spread
    JOIN streams AS m ON m.stream_id = t.stream_id
    WHERE t.spread >= setting('stuck_scatter') * t.resolution
    GROUP BY t.stream_id
),
ranges AS (
    SELECT DISTINCT s.stream_id, s.unit, m.range_high, m.mounted_from, m.mounted_to
    FROM mountings AS m
    JOIN streams AS s ON s.device = m.device AND s.channel = m.channel AND s.site = m.site
        AND s.asset = m.asset AND s.position = m.position AND s.quantity = m.range_quantity
    WHERE m.range_high > 0
),
ranged AS (
    SELECT
        r.stream_id, r.range_high, any_value(r.unit) AS unit, count(*) AS readings,
        min(s.ts) AS since, max(s.ts) AS last_at
    FROM ranges AS r
    JOIN sound AS s ON s.stream_id = r.stream_id AND s.ts >= r.mounted_from
        AND (r.mounted_to IS NULL OR s.ts < r.mounted_to)
        AND s.value >= setting('range_share') * r.range_high
    GROUP BY r.stream_id, r.range_high
)
SELECT
    stream_id, since, last_at, value AS at_least,
    at_top || ' readings on ' || days || ' days are exactly ' || number_text(value) || ' '
        || unit_text(unit) || ', its highest, and only ' || below
        || ' come near it; the mean is ' || number_text(usual_value) AS evidence
FROM near
WHERE at_top >= setting('saturated_readings') AND days >= setting('saturated_days')
    AND at_top >= setting('saturated_share') * below
UNION ALL
SELECT
    stream_id, since, last_at, setting('range_share') * range_high,
    readings || CASE readings WHEN 1 THEN ' reading is' ELSE ' readings are' END
        || ' at the end of its declared range of ' || number_text(range_high) || ' '
        || unit_text(unit) || ', or beyond'
FROM ranged;
