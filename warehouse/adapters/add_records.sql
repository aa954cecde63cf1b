-- purpose: add one file's records to the batch
-- grain: one row a record
INSERT INTO batch_records SELECT $file_no, * FROM records
