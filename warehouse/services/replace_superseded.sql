-- purpose: entries of `superseded` for the readings that are about to be written again
-- grain: one row a reading
SELECT package, row, $ended_by::BIGINT AS ended_by, 're-placed' AS why,
    $recorded_at::TIMESTAMPTZ AS recorded_at
FROM moved ORDER BY package, row
