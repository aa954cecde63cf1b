-- purpose: add what was read to the batch
-- grain: one row a record; one row a refused line
INSERT INTO batch_records SELECT * FROM file_records;
INSERT INTO batch_refused SELECT * FROM file_refused;
DROP TABLE IF EXISTS reject_errors;
DROP TABLE IF EXISTS reject_scans
