-- purpose: readings of the same source in the store that still count
-- grain: one row a reading
-- What these very packages have ended stays in: a commit that was stopped half-way is judged anew.
CREATE OR REPLACE TABLE stored AS
SELECT
    source, device, channel, quantity, detector, band, feature, method, ts::TIMESTAMP AS ts, take,
    stored_rows.package, stored_rows.row, value, resolution,
    received_at::TIMESTAMP AS received_at, issued_at::TIMESTAMP AS issued_at
FROM stored_rows
ANTI JOIN (
    SELECT package, row FROM superseded WHERE ended_by NOT IN (SELECT package FROM packages)
) AS ended
    ON ended.package = stored_rows.package AND ended.row = stored_rows.row
WHERE source = $source
    AND method = $method
    AND ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
