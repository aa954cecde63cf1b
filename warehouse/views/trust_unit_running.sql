-- purpose: velocities that hardly move though the machine is proven to run, and have always been so
--          (rule J10): a unit that slipped before the first day, told without any like machine.
-- grain: one row a stream.
-- columns: check_code, stream_id, source, device, since (UTC, first of the days looked at), until
--          (null: still so), effect, evidence (words).
-- depends: running_states, streams, setting, number_text
-- materialise: yes
-- kept: stream_id
CREATE OR REPLACE VIEW trust_unit_running AS
WITH velocities AS (
    SELECT stream_id, site, asset, source, device, method, to_rms
    FROM streams
    WHERE quantity = 'velocity' AND feature = 'overall'
        AND detector IN ('rms', 'derived-peak', 'derived-peak-to-peak')
),
days AS (
    SELECT r.stream_id, r.day, median(r.value) AS value, min(r.ts) AS first_at
    FROM running_states AS r
    SEMI JOIN velocities AS v ON v.stream_id = r.stream_id
    WHERE r.state = 'steady' AND r.value > 0
        -- Below it velocity is small by nature (ISO 10816-7 judges displacement there).
        AND coalesce(r.speed >= setting('slow_speed'), true)
    GROUP BY r.stream_id, r.day
    QUALIFY row_number() OVER (PARTITION BY r.stream_id ORDER BY r.day DESC)
        <= setting('still_days')
),
still AS (
    SELECT
        v.stream_id, v.site, v.asset, v.source, v.device, min(d.first_at) AS since,
        count(*) AS days, max(d.value) * v.to_rms AS highest
    FROM days AS d
    JOIN velocities AS v ON v.stream_id = d.stream_id
    GROUP BY v.stream_id, v.site, v.asset, v.source, v.device, v.method, v.to_rms
    HAVING max(d.value) * v.to_rms < setting('still_velocity')
        AND count(*) >= CASE WHEN v.method = 'route' THEN setting('slip_visits')
            ELSE setting('slip_days') END
)
SELECT
    'unit-slip' AS check_code, s.stream_id, s.source, s.device, s.since,
    NULL::TIMESTAMPTZ AS until, 'note' AS effect,
    'at most ' || number_text(s.highest) || ' mm/s rms on the last ' || s.days
        || ' days while running is proven: what runs moves more than '
        || number_text(setting('still_velocity')) || ' (common practice, no source); numbers in '
        || 'in/s taken as mm/s give 25.4 times too little, or the sensor does not sit on this machine'
        AS evidence
FROM still AS s
-- Instruments of two sources, which have units of their own, agree: the machine is that smooth.
ANTI JOIN still AS other
    ON other.site = s.site AND other.asset = s.asset AND other.source <> s.source;
