-- purpose: every stored row of the identities a package speaks of, and the rows to come of those
--          that a corrected registry put on no machine
-- grain: one row a reading; `identity_no` numbers the identities, `stored` is false for rows to come
-- Row n of a re-placing package stands for the n-th row, by (package, row), that it ended.
CREATE OR REPLACE TABLE touched AS
WITH identities AS (
    SELECT *, row_number() OVER () AS identity_no
    FROM (SELECT DISTINCT @{identity} FROM readings WHERE package = $package)
),
found AS (
    SELECT
        readings.package, readings.row, identities.identity_no,
        coalesce(readings.issued_at, readings.received_at) AS issued
    FROM readings
    JOIN identities ON @{same_reading}
),
copies AS (
    SELECT package, row, ended_by,
        row_number() OVER (PARTITION BY ended_by ORDER BY package, row) AS copy_row
    FROM superseded WHERE why = 're-placed'
),
to_come AS (
    SELECT copies.ended_by AS package, copies.copy_row AS row, found.identity_no, found.issued
    FROM found
    JOIN copies ON copies.package = found.package AND copies.row = found.row
    ANTI JOIN found AS written
        ON written.package = copies.ended_by AND written.row = copies.copy_row
)
SELECT *, true AS stored FROM found
UNION ALL
SELECT *, false AS stored FROM to_come
