-- purpose: counts of one commit
-- grain: one row
SELECT
    count(*) FILTER (fates.row IS NULL OR NOT (dropped OR revises)) AS accepted,
    count(*) FILTER (dropped) AS duplicate,
    count(*) FILTER (revises AND NOT dropped) AS revised
FROM items
LEFT JOIN fates USING (row)
WHERE items.fault IS NULL AND items.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
