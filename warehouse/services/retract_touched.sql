-- purpose: every stored row of the identities a package speaks of, and the rows to come of those
--          that a corrected registry put on no machine
-- grain: one row a reading; `identity_no` numbers the identities, `stored` is false for rows to come,
--        `sent_package` and `sent_row` tell the reading it was when it came
-- Row n of a re-placing package stands for the n-th row, by (package, row), that it ended.
CREATE OR REPLACE TABLE touched AS
WITH RECURSIVE identities AS (
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
-- Each row as it was sent, and every row that stands for it at another place since.
chain AS (
    SELECT package, row, identity_no, issued, package AS sent_package, row AS sent_row
    FROM found
    ANTI JOIN copies ON copies.ended_by = found.package AND copies.copy_row = found.row
    UNION ALL
    SELECT copies.ended_by, copies.copy_row, chain.identity_no, chain.issued, chain.sent_package,
        chain.sent_row
    FROM chain
    JOIN copies ON copies.package = chain.package AND copies.row = chain.row
)
SELECT
    chain.*,
    EXISTS (FROM found WHERE found.package = chain.package AND found.row = chain.row) AS stored
FROM chain
