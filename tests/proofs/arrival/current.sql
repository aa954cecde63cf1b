-- purpose: the current view as the proof compares it
-- grain: one row a reading that counts
SELECT
    source, device,
    (date_diff('minute', TIMESTAMPTZ '2025-06-01 00:00:00+00', ts))::INTEGER AS minute,
    value
FROM readings_current
