-- purpose: devices whose radio signal is weak, or fell far below its own usual strength.
-- grain: one row a source and device that reports its signal strength.
-- columns: check_code, stream_id (null), source, device, since (UTC, begin of the days looked at),
--          until (null: still so), effect, evidence (words).
-- depends: readings_current, setting, number_text
-- materialise: when asked
CREATE OR REPLACE VIEW trust_signal AS
WITH sent AS (
    SELECT
        r.source, r.device, r.ts, r.value,
        r.ts > max(r.ts) OVER one - to_days(setting('signal_days')::INTEGER) AS lately,
        r.ts > max(r.ts) OVER one - to_days(setting('signal_usual_days')::INTEGER) AS before
    FROM readings_current AS r
    WHERE r.quantity = 'signal-strength' AND r.value IS NOT NULL
    WINDOW one AS (PARTITION BY r.source, r.device)
),
compared AS (
    SELECT
        source, device, min(ts) FILTER (WHERE lately) AS since,
        count(*) FILTER (WHERE lately) AS received,
        median(value) FILTER (WHERE lately) AS now,
        median(value) FILTER (WHERE before AND NOT lately) AS usual
    FROM sent
    GROUP BY ALL
)
SELECT
    'signal-weak' AS check_code, NULL::INTEGER AS stream_id, c.source, c.device, c.since,
    NULL::TIMESTAMPTZ AS until, 'note' AS effect,
    number_text(c.now) || ' dB re 1 mW in the last ' || setting('signal_days')::INTEGER || ' d'
        || CASE WHEN c.usual IS NULL THEN '' ELSE ', ' || number_text(c.usual) || ' before' END
        || coalesce('; ' || c.received || ' of '
            || (setting('signal_days') * 24 * 60 / d.interval_minutes)::INTEGER
            || ' messages came', '') AS evidence
FROM compared AS c
LEFT JOIN devices AS d ON d.device = c.device
WHERE c.received >= setting('signal_readings')
    AND (c.now < setting('signal_weak_db') OR c.now <= c.usual - setting('signal_fall_db'));
