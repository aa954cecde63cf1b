-- purpose: what could not become an event, in the columns of `rejects`
-- grain: one row a refused record
WITH refused AS (
SELECT
    i.package, i.row, $source AS source, i.file, i.line, c.column_name, i.reason,
    concat_ws(' ', i.attribute || ':', i.detail) AS detail, i.raw, NULL::VARCHAR AS device,
    NULL::VARCHAR AS channel, i.started_text AS ts_text, $mapping AS mapping, i.received_at,
    i.attempt
FROM event_items AS i
LEFT JOIN event_columns AS c ON c.attribute = i.attribute
WHERE i.reason IS NOT NULL
UNION ALL
SELECT
    p.package, r.line, $source, p.file, r.line, r.column_name, r.reason, r.detail, r.raw, NULL,
    NULL, NULL, $mapping, p.received_at, p.attempt
FROM batch_refused AS r
JOIN event_packages AS p ON p.file_no = r.file_no
)
SELECT * FROM refused
QUALIFY row_number() OVER (PARTITION BY package, reason ORDER BY row) <= $kept
ORDER BY package, row
