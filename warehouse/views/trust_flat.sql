-- purpose: streams of which hardly any scatter is left, while the machine is not known to rest.
-- grain: one row a stream that is flat now.
-- columns: check_code, stream_id, source, device, since (UTC, begin of the quiet blocks), until
--          (null: still so), effect, evidence (words).
-- depends: stream_blocks, stream_scatter, trust_stuck, streams, setting, unit_text
-- materialise: when asked
CREATE OR REPLACE VIEW trust_flat AS
WITH blocks AS (
    SELECT
        b.*, u.value AS usual_value,
        max(b.block) OVER (PARTITION BY b.stream_id) - b.block AS back,
        median(b.mean_step) OVER (PARTITION BY b.stream_id) AS usual_step
    FROM stream_blocks AS b
    JOIN stream_scatter AS u ON u.stream_id = b.stream_id
    WHERE b.readings >= setting('flat_readings')
),
-- The present run of quiet blocks is compared with what was before it.
broken AS (
    SELECT stream_id, min(back) AS back
    FROM blocks
    WHERE mean_step > setting('flat_share') * usual_step
    GROUP BY stream_id
),
flat AS (
    SELECT
        b.stream_id, any_value(b.mean_step) FILTER (WHERE b.back = 0) AS step,
        min(b.mean_step) FILTER (WHERE b.back >= k.back) AS least_step,
        min(b.since) FILTER (WHERE b.back < k.back) AS since,
        bool_and(b.steady OR b.mean_value >= setting('quiet_share') * b.usual_value)
            FILTER (WHERE b.back < k.back) AS running
    FROM blocks AS b
    JOIN broken AS k ON k.stream_id = b.stream_id
    GROUP BY b.stream_id
    HAVING count(*) FILTER (WHERE b.back >= k.back) >= setting('flat_blocks')
)
SELECT
    'flat' AS check_code, f.stream_id, s.source, s.device, f.since,
    NULL::TIMESTAMPTZ AS until, 'note' AS effect,
    'the last ' || setting('flat_readings')::INTEGER || ' readings move by '
        || format('{:.3g}', f.step) || ' ' || unit_text(s.unit) || ' (mean), '
        || format('{:.3g}', f.least_step) || ' in its quietest time before' AS evidence
FROM flat AS f
JOIN streams AS s ON s.stream_id = f.stream_id
-- What is stuck is told as that.
ANTI JOIN (SELECT stream_id FROM trust_stuck WHERE until IS NULL) AS p
    ON p.stream_id = f.stream_id
WHERE f.running AND f.step <= setting('flat_share') * f.least_step;
