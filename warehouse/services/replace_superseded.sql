-- purpose: entries of `superseded` for the readings that are about to be written again, and for
--          those that come back or stand and do not count beside another
-- grain: one row a reading
SELECT package, row, $ended_by::BIGINT AS ended_by, 're-placed' AS why,
    $recorded_at::TIMESTAMPTZ AS recorded_at
FROM moved
UNION ALL
SELECT package, row, ended_by, 'revision', $recorded_at::TIMESTAMPTZ FROM overtaken
ORDER BY package, row
