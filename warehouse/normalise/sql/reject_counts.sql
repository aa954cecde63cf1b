-- purpose: how many items were refused, by reason; complete, unlike the kept rows
-- grain: one row a file and reason
SELECT file_no, reason, sum(items)::BIGINT AS items
FROM (
    SELECT file_no, fault AS reason, count(*) AS items
    FROM items WHERE fault IS NOT NULL GROUP BY file_no, fault
    UNION ALL
    SELECT file_no, reason, count(*) AS items FROM batch_refused GROUP BY file_no, reason
)
GROUP BY file_no, reason
ORDER BY file_no, reason
