-- purpose: the records and refused lines of the one file read
-- grain: one row a record; one row a refused line
CREATE OR REPLACE VIEW records AS SELECT * EXCLUDE (file_no) FROM file_records;
CREATE OR REPLACE VIEW refused AS SELECT * EXCLUDE (file_no) FROM file_refused
