-- purpose: devices whose stamps steadily lie after the receipt: their clock is ahead. A clock that
--          is behind cannot be told from a file that comes late.
-- grain: one row a source and device.
-- columns: check_code, stream_id (null), source, device, since (UTC, the first such stamp of the
--          days looked at), until (null: still so), effect, evidence (words).
-- depends: setting, number_text
-- materialise: when asked
CREATE OR REPLACE VIEW trust_clock AS
WITH leads AS (
    SELECT
        source, device, ts, date_diff('second', received_at, ts) / 60.0 AS lead_minutes
    FROM readings
    WHERE ts_source IN ('device', 'gateway')
        AND ts > CAST(getvariable('as_of') AS TIMESTAMPTZ)
            - to_days(setting('clock_days')::INTEGER)
),
counted AS (
    SELECT
        source, device, count(*) AS readings,
        count(*) FILTER (WHERE lead_minutes > setting('clock_lead_minutes')) AS ahead,
        min(ts) FILTER (WHERE lead_minutes > setting('clock_lead_minutes')) AS since,
        median(lead_minutes) FILTER (WHERE lead_minutes > setting('clock_lead_minutes')) AS lead
    FROM leads
    GROUP BY ALL
)
SELECT
    'clock-ahead' AS check_code, NULL::INTEGER AS stream_id, source, device, since,
    NULL::TIMESTAMPTZ AS until, 'note' AS effect,
    ahead || ' of ' || readings || ' readings of the last ' || setting('clock_days')::INTEGER
        || ' d are stamped after their receipt, by ' || number_text(lead) || ' min (median)'
        AS evidence
FROM counted
WHERE ahead >= setting('clock_readings') AND ahead >= setting('clock_share') * readings;
