-- purpose: stop results that could not be used, in the columns of `rejects`
-- grain: one row a refused stop result, at most $kept a package and reason
SELECT
    i.package, i.row, $source AS source, i.file, i.line, c.column_name, i.reason,
    i.attribute || ': ' || i.detail AS detail, i.raw, i.device, i.stop AS channel, i.ts_text,
    $mapping AS mapping, i.received_at::TIMESTAMPTZ AS received_at, i.attempt
FROM stop_items AS i
LEFT JOIN stop_columns AS c ON c.attribute = i.attribute
WHERE i.reason IS NOT NULL
QUALIFY row_number() OVER (PARTITION BY i.package, i.reason ORDER BY i.row) <= $kept
ORDER BY i.package, i.row
