-- purpose: the readings of one commit, narrow: constants of a stream are joined on as dictionaries
-- grain: one row a reading, in stored order
SELECT
    items.file_no, items.stream_no, items.ts, items.take, items.issued_at, items.sequence, items.note,
    items.value, items.source_value, items.resolution, items.quality, items.row::BIGINT AS row
FROM items
JOIN key_places USING (stream_no)
@{fates_join}
WHERE items.fault IS NULL AND items.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
    @{not_dropped}
ORDER BY key_places.site_no, items.ts::DATE, items.series_no, items.ts, items.stream_no, items.row
