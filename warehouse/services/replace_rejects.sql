-- purpose: readings that are on no machine now, as refused items; the first $kept of the package
-- grain: one row a reading
SELECT
    ended_by AS package, new_row AS row, source, 'corrected registry' AS file, new_row AS line,
    NULL::VARCHAR AS column_name, 'not-mounted' AS reason,
    'device ''' || left(device, 60) || ''' channel ''' || left(channel, 60)
        || ''' is on no machine at ' || strftime(ts, '%Y-%m-%dT%H:%M:%SZ')
        || ' by the corrected registry; it was row ' || row || ' of package ' || package AS detail,
    CAST(coalesce(source_value, value) AS VARCHAR) AS raw,
    device, channel, strftime(ts, '%Y-%m-%dT%H:%M:%S.%fZ') AS ts_text, mapping, received_at,
    1 AS attempt
FROM waiting
WHERE ended_by = $package
    AND new_row NOT IN (SELECT new_row FROM written WHERE ended_by = $package)
ORDER BY new_row
LIMIT $kept
