-- purpose: every candidate value of the package: its time, number and place, or what is wrong with it
-- grain: one row a value that is not a declared blank
-- `quality` is 0 good, 1 over range, 2 provisional mounting, 3 implausible. Texts are kept only where there is a fault.
CREATE OR REPLACE TABLE items AS
WITH timed AS (
    @{timed}
),
exploded AS (
    SELECT
        file_no,
        line,
        @{set_no} AS set_no,
        ts,
        ts_text,
        time_fault,
        CASE WHEN @{issued_at} BETWEEN earliest AND latest THEN @{issued_at} END AS issued_at,
        @{sequence} AS sequence,
        @{note} AS note,
        unnest([@{values}]) AS cell,
        unnest(range(1, $measures + 1)) AS measure
    FROM timed @{set_join}
),
marked AS (
    SELECT * EXCLUDE (cell), trim(coalesce(cell, '')) AS raw FROM exploded
),
spelt AS (
    SELECT *,
        list_contains($over_range::VARCHAR[], raw) AS beyond,
        @{plain} AS plain
    FROM marked
    WHERE NOT list_contains($nulls::VARCHAR[], raw)
),
read AS (
    SELECT *,
        CASE WHEN NOT contains(plain, '_') THEN try_cast(plain AS DOUBLE) END AS number,
        printed_digits(plain) AS digits
    FROM spelt
),
placed AS (
    SELECT
        read.*,
        keys.* EXCLUDE (set_no, measure, fault),
        keys.fault AS key_fault,
        key_places.stream_no, key_places.series_no, key_places.provisional,
        read.number * keys.factor + keys.offset AS value
    FROM read
    JOIN keys ON keys.key_no = (read.set_no - 1) * $measures + read.measure
    LEFT JOIN key_places
        ON key_places.key_no = keys.key_no
        AND read.ts >= key_places.valid_from
        AND read.ts < key_places.valid_to
),
judged AS (
    SELECT *,
        CASE
            WHEN time_fault IS NOT NULL THEN time_fault
            WHEN key_fault IS NOT NULL THEN key_fault
            WHEN beyond THEN NULL
            WHEN number IS NULL OR NOT isfinite(number) OR NOT isfinite(value) THEN 'bad-number'
            WHEN number < 0 AND never_negative THEN 'impossible-value'
            WHEN quantity = 'temperature' AND value < -273.15 - 1e-9 THEN 'impossible-value'
        END AS fault_in_itself
    FROM placed
)
SELECT
    file_no::INTEGER AS file_no,
    (line - 1) * $measures + measure AS row,
    line,
    measure::INTEGER AS measure,
    key_no::INTEGER AS key_no,
    identity_no::INTEGER AS identity_no,
    stream_no::INTEGER AS stream_no,
    series_no::INTEGER AS series_no,
    ts,
    0::INTEGER AS take,
    issued_at,
    sequence,
    note,
    CASE WHEN NOT beyond THEN value END AS value,
    CASE WHEN NOT beyond AND round((value - "offset") / factor, digits) <> number
         THEN number END AS source_value,
    CASE WHEN NOT beyond THEN factor * pow(10, -digits) END AS resolution,
    CASE WHEN beyond THEN 1 WHEN value > plausible THEN 3 WHEN provisional THEN 2 ELSE 0 END::UTINYINT
        AS quality,
    CASE WHEN fault_in_itself IS NOT NULL THEN fault_in_itself
         WHEN stream_no IS NULL THEN unplaced_reason END AS fault,
    CASE WHEN fault IS NOT NULL THEN raw END AS raw,
    CASE WHEN fault IS NOT NULL THEN ts_text END AS ts_text
FROM judged
