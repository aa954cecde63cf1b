-- purpose: every record with its attributes as words of ours, still text
-- grain: one row a record
CREATE OR REPLACE TABLE event_words AS
SELECT file_no, line, @{attributes}
FROM batch_records;
