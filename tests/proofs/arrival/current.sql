-- purpose: the current view as the proof compares it
-- grain: one row a reading that counts, with the package and row it was sent as
-- Row n of a re-placing package stands for the n-th row, by (package, row), that it ended.
WITH RECURSIVE again AS (
    SELECT ended_by AS package, package AS was_package, row AS was_row,
        row_number() OVER (PARTITION BY ended_by ORDER BY package, row) AS row
    FROM superseded WHERE why = 're-placed'
),
origin AS (
    SELECT package, row, package AS sent_package, row AS sent_row FROM readings_current
    UNION ALL
    SELECT origin.package, origin.row, again.was_package, again.was_row
    FROM origin
    JOIN again ON again.package = origin.sent_package AND again.row = origin.sent_row
)
SELECT
    source, device, channel, quantity,
    (date_diff('minute', TIMESTAMPTZ '2025-06-30 00:00:00+00', ts) / 40)::INTEGER AS slot,
    take, origin.sent_package AS package, origin.sent_row AS row, value
FROM readings_current
JOIN origin USING (package, row)
ANTI JOIN again ON again.package = origin.sent_package AND again.row = origin.sent_row
