-- purpose: refused items with their place in the file, the raw text and what is allowed
-- grain: one row a refused item, at most $kept a package and reason
WITH refused_values AS (
    SELECT
        items.file_no, items.row, items.line, measure_names.column_name, items.fault AS reason,
        CASE items.fault
            WHEN 'bad-time' THEN 'time ' || quoted(items.ts_text) || ' is not of the form ' || $time_form
            WHEN 'missing-hour' THEN 'local time ' || quoted(items.ts_text) || ' does not exist in ' || $zone
            WHEN 'ambiguous-hour'
            THEN 'local time ' || quoted(items.ts_text) || ' stands for two instants in ' || $zone
                || '; ' || $undecided
            WHEN 'time-out-of-range'
            THEN 'time ' || quoted(items.ts_text) || ' lies outside '
                || strftime(packages.earliest, '%Y-%m-%d') || ' to ' || strftime(packages.latest, '%Y-%m-%d')
            WHEN 'bad-number'
            THEN 'value ' || quoted(items.raw) || ' is no number with decimal mark ' || quoted($decimal)
                || coalesce(' and ''' || $thousands::VARCHAR || ''' between thousands', '')
                || ', nor a declared null or over-range mark'
            WHEN 'impossible-value'
            THEN 'value ' || quoted(items.raw) || ' ' || coalesce(keys.source_unit, '')
                || ' cannot be for ' || keys.quantity || ' ' || keys.detector
            WHEN 'unknown-quantity' THEN 'quantity ' || quoted(keys.quantity) || ' is no code of the open schema'
            WHEN 'unknown-detector' THEN 'detector ' || quoted(keys.detector) || ' is no code of the open schema'
            WHEN 'unknown-unit' THEN 'unit ' || quoted(keys.source_unit) || ' is not in the unit table'
            WHEN 'unit-mismatch'
            THEN 'unit ' || quoted(keys.source_unit) || ' does not measure ' || keys.quantity || ' ' || keys.detector
            WHEN 'bad-band' THEN 'band ' || quoted(keys.band) || ' is not of the form LOW-HIGHHz'
            WHEN 'blank-identity' THEN 'device and channel are needed'
            WHEN 'unknown-device' THEN 'device ' || quoted(keys.device) || ' has no registered mounting'
            WHEN 'unknown-channel'
            THEN 'device ' || quoted(keys.device) || ' is registered, its channel ' || quoted(keys.channel) || ' is not'
            WHEN 'unknown-stop' THEN unknown_stop(keys.route, keys.channel, $sheet_route::VARCHAR)
            WHEN 'unknown-point'
            THEN 'asset ' || quoted(keys.scope) || ' has no registered point ' || quoted(keys.position)
            WHEN 'other-site'
            THEN 'device ' || quoted(keys.device) || ' channel ' || quoted(keys.channel) || ' at '
                || strftime(items.ts, '%Y-%m-%dT%H:%M:%SZ') || ' is a reading of another site'
            WHEN 'not-mounted'
            THEN 'device ' || quoted(keys.device) || ' channel ' || quoted(keys.channel)
                || ' was on no machine at ' || strftime(items.ts, '%Y-%m-%dT%H:%M:%SZ')
            ELSE items.fault
        END AS detail,
        items.raw, keys.device, keys.channel, items.ts_text
    FROM items
    JOIN packages USING (file_no)
    JOIN keys USING (key_no)
    JOIN measure_names ON measure_names.measure = items.measure
    WHERE items.fault IS NOT NULL
),
refused_lines AS (
    SELECT
        file_no, (line - 1) * $measures + 1 AS row, line, column_name, reason, detail, raw,
        NULL::VARCHAR AS device, NULL::VARCHAR AS channel, NULL::VARCHAR AS ts_text
    FROM batch_refused
),
together AS (
    SELECT * FROM refused_values UNION ALL SELECT * FROM refused_lines
)
SELECT
    packages.package,
    row::BIGINT AS row,
    $source::VARCHAR AS source,
    packages.file,
    line::BIGINT AS line,
    column_name,
    reason,
    detail,
    left(raw, 200) AS raw,
    device,
    channel,
    ts_text,
    $mapping::VARCHAR AS mapping,
    packages.received_at::TIMESTAMPTZ AS received_at,
    packages.attempt
FROM together
JOIN packages USING (file_no)
QUALIFY row_number() OVER (PARTITION BY packages.package, reason ORDER BY row) <= $kept
ORDER BY packages.package, row
