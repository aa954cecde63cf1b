-- purpose: the first readings a trial would store, one a stream
-- grain: one row a reading
SELECT
    items.line, items.ts::TIMESTAMPTZ AS ts, key_places.site, key_places.asset,
    key_places.position, key_places.axis, key_places.quantity, key_places.detector,
    key_places.band, items.value, key_places.unit
FROM items
JOIN key_places USING (stream_no)
WHERE items.fault IS NULL
QUALIFY row_number() OVER (PARTITION BY stream_no ORDER BY items.row) = 1
ORDER BY items.row
LIMIT $shown
