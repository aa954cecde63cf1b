-- purpose: nothing in the store overlaps these items
-- grain: none
CREATE OR REPLACE TABLE matches (
    file_no INTEGER, row BIGINT, package BIGINT, stored_package BIGINT, stored_row BIGINT,
    outcome VARCHAR, wins BOOLEAN
)
