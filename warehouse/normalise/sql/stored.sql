-- purpose: readings in the store of the streams this batch speaks of: those that count, and those
--          that a revision has `ended`; not those that were withdrawn or placed anew
-- grain: one row a reading; `identity_no` is the number of its stream in this batch
-- All values of an identity are here, so that the same is found whenever the batch is looked at
-- again: after a stop half-way, or when its packages are replayed.
CREATE OR REPLACE TABLE stored AS
WITH spoken AS (
    SELECT *, $source AS source, $method AS method FROM identities
)
SELECT
    spoken.identity_no, stored_rows.ts::TIMESTAMP AS ts, stored_rows.take,
    stored_rows.package, stored_rows.row, stored_rows.value, stored_rows.resolution,
    coalesce(stored_rows.issued_at, stored_rows.received_at)::TIMESTAMP AS issued,
    superseded.row IS NOT NULL AS ended
FROM stored_rows
JOIN spoken ON @{same_stream}
LEFT JOIN superseded
    ON superseded.package = stored_rows.package AND superseded.row = stored_rows.row
WHERE stored_rows.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
    AND coalesce(superseded.why = 'revision', true)
