-- purpose: the current view as the proof compares it
-- grain: one row a reading that counts
SELECT
    source, device, channel, quantity,
    (date_diff('minute', TIMESTAMPTZ '2025-06-30 00:00:00+00', ts) / 40)::INTEGER AS slot,
    take, package, row, value
FROM readings_current
