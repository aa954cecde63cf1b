-- purpose: identities that stand more than once in the batch
-- grain: one row an identity
CREATE OR REPLACE TABLE repeated AS
SELECT identity_no, ts, take
FROM items
WHERE fault IS NULL
GROUP BY identity_no, ts, take
HAVING count(*) > 1
