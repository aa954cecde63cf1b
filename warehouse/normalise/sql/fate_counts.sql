-- purpose: counts of one commit
-- grain: one row a package
SELECT
    packages.package,
    count(items.row) FILTER (fates.row IS NULL OR NOT (dropped OR revises)) AS accepted,
    count(items.row) FILTER (dropped) AS duplicate,
    count(items.row) FILTER (revises AND NOT dropped) AS revised
FROM packages
LEFT JOIN items
    ON items.file_no = packages.file_no
    AND items.fault IS NULL
    AND items.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
LEFT JOIN fates ON fates.file_no = items.file_no AND fates.row = items.row
GROUP BY packages.package
