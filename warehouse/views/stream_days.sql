-- purpose: what each stream of vibration reads a day while its machine is not known to rest, to be
--          compared with itself, its neighbours and its like.
-- grain: one row a stream and site-local day with such readings of a value above zero.
-- columns: stream_id, day, value (median, unit of the series; null where all may be rest, rule J9),
--          readings (count), resting (share that may be rest, 1), resolution (median, unit of the
--          series), first_at (UTC).
-- depends: running_states, streams, quiet_references, is_quiet
-- materialise: yes
CREATE OR REPLACE VIEW stream_days AS
WITH vibration AS (
    SELECT stream_id FROM streams
    WHERE quantity IN ('velocity', 'acceleration', 'acceleration-envelope', 'displacement',
            'shaft-displacement')
        AND detector NOT IN ('kurtosis', 'excess-kurtosis', 'crest-factor')
),
daily AS (
    SELECT
        r.stream_id, r.day, count(*) AS readings,
        median(r.value) FILTER (
            WHERE NOT coalesce(is_quiet(r.state, r.value, q.usual_value), false)) AS value,
        count(*) FILTER (WHERE is_quiet(r.state, r.value, q.usual_value)) / count(*) AS resting,
        median(r.resolution) AS resolution, min(r.ts) AS first_at
    FROM running_states AS r
    SEMI JOIN vibration AS v ON v.stream_id = r.stream_id
    LEFT JOIN quiet_references AS q ON q.series_id = r.series_id
    WHERE r.state IN ('steady', 'unknown') AND r.quality = 'good' AND r.value > 0
    GROUP BY ALL
),
-- What else the channel sends rests on the days on which its velocity does.
mates AS (
    SELECT a.stream_id, b.stream_id AS velocity_id
    FROM streams AS a
    JOIN streams AS b
        ON b.source = a.source AND b.device = a.device AND b.channel = a.channel
        AND b.site = a.site AND b.asset = a.asset AND b.position = a.position
        AND b.axis IS NOT DISTINCT FROM a.axis
    WHERE b.quantity = 'velocity' AND a.quantity <> 'velocity'
),
resting_days AS (
    SELECT m.stream_id, d.day, max(d.resting) AS resting
    FROM mates AS m
    JOIN daily AS d ON d.stream_id = m.velocity_id
    WHERE d.resting > 0
    GROUP BY ALL
)
SELECT
    d.stream_id, d.day, CASE WHEN coalesce(m.resting, 0) < 0.5 THEN d.value END AS value,
    d.readings, greatest(d.resting, coalesce(m.resting, 0)) AS resting, d.resolution, d.first_at
FROM daily AS d
LEFT JOIN resting_days AS m ON m.stream_id = d.stream_id AND m.day = d.day;
