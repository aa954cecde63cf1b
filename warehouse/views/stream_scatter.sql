-- purpose: how much each stream usually moves from one reading to the next, where its last printed
--          digit is fine enough to tell: only there is a repetition odd.
-- grain: one row a stream.
-- columns: stream_id, step (geometric mean of the steps that are not zero), value (mean),
--          resolution (all unit of the series), repeats (readings equal to the four before).
-- depends: stream_blocks, setting
CREATE OR REPLACE VIEW stream_scatter AS
SELECT
    stream_id, exp(sum(log_steps) / sum(steps)) AS step,
    sum(mean_value * readings) / sum(readings) AS value,
    coalesce(min(resolution), min(least_step)) AS resolution, sum(repeats) AS repeats
FROM stream_blocks
GROUP BY stream_id
HAVING sum(steps) > 0 AND exp(sum(log_steps) / sum(steps))
    >= setting('stuck_scatter') * coalesce(min(resolution), min(least_step));
