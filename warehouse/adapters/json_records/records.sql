-- purpose: the text of each field the mapping names; a path that is absent is null
-- grain: one row a record
CREATE OR REPLACE TABLE records AS
WITH outside AS MATERIALIZED (
    SELECT json_extract_string($document, $outer::VARCHAR[]) AS around
),
cut AS (
    SELECT line, json_extract_string(text, $inner::VARCHAR[]) AS found, around
    FROM arrow_json, outside
)
SELECT line, @{columns} FROM cut
