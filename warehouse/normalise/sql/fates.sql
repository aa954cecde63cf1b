-- purpose: what becomes of the candidates of one commit
-- grain: one row an item that stands out: dropped as a copy, or revising another value
CREATE OR REPLACE TABLE fates AS
SELECT
    file_no,
    row,
    coalesce(bool_or(repeats.outcome = 'duplicate' OR matches.outcome = 'duplicate'), false) AS dropped,
    coalesce(bool_or(repeats.outcome = 'revised' OR matches.outcome = 'revised'), false) AS revises
FROM repeats
FULL JOIN matches USING (file_no, row)
GROUP BY file_no, row
