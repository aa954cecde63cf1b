-- purpose: records without a number
-- grain: one row a record
SELECT
    line,
    'value' AS column_name,
    'undecodable' AS reason,
    'the record carries no number (v); text, boolean, data and sums alone are no reading' AS detail,
    raw
FROM resolved
WHERE no_number
