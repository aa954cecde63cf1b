-- purpose: what becomes of the candidates of one commit
-- grain: one row an item that stands out: dropped as a copy, or revising another value
CREATE OR REPLACE TABLE fates AS
SELECT file_no, row, outcome = 'duplicate' AS dropped, outcome = 'revised' AS revises
FROM repeats
WHERE file_no IS NOT NULL
UNION ALL
SELECT file_no, row, bool_or(outcome = 'duplicate'), bool_or(outcome = 'revised')
FROM matches
GROUP BY file_no, row
