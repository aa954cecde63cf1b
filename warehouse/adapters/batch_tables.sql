-- purpose: records and refused lines of several files together
-- grain: one row a record; one row a refused line or cell; `file_no` is the place in the batch
CREATE OR REPLACE TABLE batch_records (file_no BIGINT, line BIGINT, @{fields});
CREATE OR REPLACE TABLE batch_refused (
    file_no BIGINT, line BIGINT, column_name VARCHAR, reason VARCHAR, detail VARCHAR, raw VARCHAR
)
