-- purpose: the distinct attribute words of the package, numbered
-- grain: one row a distinct set of words
CREATE OR REPLACE TABLE attribute_sets AS
SELECT row_number() OVER (ORDER BY words) AS set_no, *
FROM (SELECT DISTINCT @{named_words}, [@{words}]::VARCHAR[] AS words FROM batch_records)
