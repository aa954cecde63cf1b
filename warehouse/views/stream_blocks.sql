-- purpose: each stream of vibration or temperature in blocks of so many readings, while its machine
--          is not known to rest: how much it moves, and whether it repeats itself.
-- grain: one row a stream and block, in order of time; the last may not be full.
-- columns: stream_id, block (from 0), readings (count), steps (count of steps that are not zero),
--          log_steps (sum of their natural logarithms, unit of the series), least_step (unit of the
--          series), mean_step, mean_value (unit of the series), resolution (least, unit of the
--          series), since (UTC), steady (all are), repeats (readings equal to the four before),
--          least_gap (shortest time since the reading before).
-- depends: running_states, setting
-- materialise: yes
CREATE OR REPLACE VIEW stream_blocks AS
WITH ordered AS (
    SELECT
        stream_id, ts, value, resolution, state,
        row_number() OVER in_time AS place,
        abs(value - lag(value) OVER in_time) AS step, ts - lag(ts) OVER in_time AS gap,
        value = lag(value) OVER in_time AND value = lag(value, 2) OVER in_time
            AND value = lag(value, 3) OVER in_time AND value = lag(value, 4) OVER in_time
            AS repeated
    FROM running_states
    WHERE state IN ('steady', 'unknown') AND quality = 'good' AND value IS NOT NULL
    WINDOW in_time AS (PARTITION BY stream_id ORDER BY ts, value)
)
SELECT
    stream_id, CAST((place - 1) // setting('flat_readings')::BIGINT AS INTEGER) AS block,
    count(*) AS readings, count(*) FILTER (WHERE step > 0) AS steps,
    coalesce(sum(ln(step)) FILTER (WHERE step > 0), 0) AS log_steps,
    min(step) FILTER (WHERE step > 0) AS least_step, avg(step) AS mean_step,
    avg(value) AS mean_value, min(resolution) AS resolution, min(ts) AS since,
    bool_and(state = 'steady') AS steady, count(*) FILTER (WHERE repeated) AS repeats,
    min(gap) AS least_gap
FROM ordered
GROUP BY ALL;
