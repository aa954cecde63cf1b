-- purpose: nothing in the store overlaps these items
-- grain: none
CREATE OR REPLACE TABLE stored (
    identity_no BIGINT, ts TIMESTAMP, take INTEGER, package BIGINT, row BIGINT,
    value DOUBLE, resolution DOUBLE, issued TIMESTAMP, ended BOOLEAN
)
