-- purpose: streams that reach one highest value again and again and hardly ever come near it from
--          below: clipped at the end of a range that nobody declared.
-- grain: one row a stream.
-- columns: check_code, stream_id, source, device, since (UTC, first reading at the top),
--          until (UTC, the last one, where it is long past; null: lately so), at_least (unit of the
--          series: only readings from there on are meant), effect, evidence (words).
-- depends: running_states, streams, setting, number_text, unit_text
-- materialise: yes
CREATE OR REPLACE VIEW trust_saturated AS
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
        count(*) FILTER (WHERE s.value = t.value) AS at_top,
        count(DISTINCT CAST(s.ts AS DATE)) FILTER (WHERE s.value = t.value) AS days,
        count(*) FILTER (WHERE s.value < t.value) AS below,
        min(s.ts) FILTER (WHERE s.value = t.value) AS since,
        max(s.ts) FILTER (WHERE s.value = t.value) AS last_at
    FROM tops AS t
    JOIN sound AS s ON s.stream_id = t.stream_id
        AND s.value >= t.value - setting('saturated_near') * t.spread
    WHERE t.spread >= setting('stuck_scatter') * t.resolution
    GROUP BY t.stream_id
)
SELECT
    'saturated' AS check_code, n.stream_id, s.source, s.device, n.since,
    CASE WHEN n.last_at <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
        - to_days(setting('trust_recent_days')::INTEGER) THEN n.last_at END AS until,
    n.value AS at_least, 'distrust' AS effect,
    n.at_top || ' readings on ' || n.days || ' days are exactly ' || number_text(n.value) || ' '
        || unit_text(s.unit) || ', its highest, and only ' || n.below
        || ' come near it; the mean is ' || number_text(n.usual_value) AS evidence
FROM near AS n
JOIN streams AS s ON s.stream_id = n.stream_id
WHERE n.at_top >= setting('saturated_readings') AND n.days >= setting('saturated_days')
    AND n.at_top >= setting('saturated_share') * n.below;
