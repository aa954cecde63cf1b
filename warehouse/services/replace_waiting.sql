-- purpose: readings that were ended to be written again, and have not been
-- grain: one row a reading
-- Row n of a re-placing package is the n-th row, by (package, row), that the package ended so.
CREATE OR REPLACE TABLE waiting AS
WITH ended AS (
    SELECT package, row, ended_by,
        row_number() OVER (PARTITION BY ended_by ORDER BY package, row) AS new_row
    FROM superseded WHERE why = 're-placed'
),
unwritten AS (
    SELECT ended.* FROM ended
    ANTI JOIN all_rows ON all_rows.package = ended.ended_by AND all_rows.row = ended.new_row
)
SELECT all_rows.*, unwritten.ended_by, unwritten.new_row
FROM all_rows
JOIN unwritten ON unwritten.package = all_rows.package AND unwritten.row = all_rows.row
