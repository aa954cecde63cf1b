-- purpose: refused records of each file by reason
-- grain: one row a file and reason
SELECT file_no, reason, count(*) AS items
FROM (
    SELECT file_no, reason FROM event_items WHERE reason IS NOT NULL
    UNION ALL
    SELECT file_no, reason FROM batch_refused
)
GROUP BY ALL
ORDER BY ALL
