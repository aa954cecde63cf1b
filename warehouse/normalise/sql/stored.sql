-- purpose: readings in the store that count, of the streams this batch speaks of
-- grain: one row a reading; `identity_no` is the number of its stream in this batch
-- Where this very commit was stopped half-way, what it has ended already still counts here, so
-- that the same things are found the second time.
CREATE OR REPLACE TABLE stored AS
WITH spoken AS (
    SELECT *, $source AS source, $method AS method FROM identities
)
SELECT
    spoken.identity_no, stored_rows.ts::TIMESTAMP AS ts, stored_rows.take,
    stored_rows.package, stored_rows.row, stored_rows.value, stored_rows.resolution,
    coalesce(stored_rows.issued_at, stored_rows.received_at)::TIMESTAMP AS issued
FROM stored_rows
JOIN spoken ON @{same_stream}
ANTI JOIN (
    SELECT package, row FROM superseded
    WHERE NOT ($half_done AND ended_by IN (SELECT package FROM packages))
) AS ended
    ON ended.package = stored_rows.package AND ended.row = stored_rows.row
WHERE stored_rows.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
@{only_newest}
