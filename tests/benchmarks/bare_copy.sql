-- purpose: the yardstick: DuckDB's own typed CSV -> sorted zstd Parquet copy, same columns and order
-- grain: one row a reading
COPY (
    SELECT
        'bench-logger' AS source, 'logger-1' AS device, channel, 'velocity' AS quantity,
        'rms' AS detector, '10-1000Hz' AS band, 'overall' AS feature, 'wired' AS method,
        time AS ts, 0::INTEGER AS take, 'device' AS ts_source, 'second' AS ts_precision,
        $received_at::TIMESTAMPTZ AS received_at, NULL::TIMESTAMPTZ AS issued_at,
        NULL::BIGINT AS sequence, 'bench' AS site, 'M-1' AS asset,
        'motor-p' || channel AS position, 'horizontal' AS axis, value, 'mm/s' AS unit,
        NULL::DOUBLE AS source_value, 'mm/s' AS source_unit, 0.01::DOUBLE AS resolution,
        'good' AS quality, NULL::VARCHAR AS reason, NULL::VARCHAR AS note,
        1::BIGINT AS package, line::BIGINT AS row, 'bench-logger@@00000000' AS mapping
    FROM (
        SELECT time, line, substr(name, 3) AS channel, value
        FROM (
            UNPIVOT (
                SELECT *, row_number() OVER () AS line
                FROM read_csv($paths, header = true, auto_detect = false, columns = $columns)
            )
            ON COLUMNS(* EXCLUDE (time, line)) INTO NAME name VALUE value
        )
    )
    ORDER BY time::DATE, channel, time
) TO '@{target}' (FORMAT parquet, CODEC zstd)
