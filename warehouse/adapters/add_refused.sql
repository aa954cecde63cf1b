-- purpose: add one file's refused lines to the batch
-- grain: one row a refused line or cell
INSERT INTO batch_refused SELECT $file_no, * FROM refused
