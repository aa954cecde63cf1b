-- purpose: keep an adapter's records in the session
-- grain: one row a record
CREATE OR REPLACE TABLE records AS SELECT * FROM arrow_records
