-- purpose: every stored row of the identities a package speaks of
-- grain: one row a reading; `identity_no` numbers the identities
CREATE OR REPLACE TABLE touched AS
WITH identities AS (
    SELECT *, row_number() OVER () AS identity_no
    FROM (SELECT DISTINCT @{identity} FROM readings WHERE package = $package)
)
SELECT
    readings.package, readings.row, identities.identity_no,
    coalesce(readings.issued_at, readings.received_at) AS issued
FROM readings
JOIN identities ON @{same_reading}
