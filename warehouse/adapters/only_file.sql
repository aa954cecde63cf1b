-- purpose: a batch of one file, without a copy
-- grain: one row a record; one row a refused line or cell
CREATE OR REPLACE VIEW batch_records AS SELECT 0::BIGINT AS file_no, * FROM records;
CREATE OR REPLACE VIEW batch_refused AS SELECT 0::BIGINT AS file_no, * FROM refused
