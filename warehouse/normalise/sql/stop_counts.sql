-- purpose: refused stop results by reason, and stops that were not measured
-- grain: one row a file and reason; a null reason has those that were not measured
SELECT file_no, reason, count(*) AS stops
FROM stop_items
WHERE reason IS NOT NULL OR result <> 'measured'
GROUP BY file_no, reason
ORDER BY file_no, reason
