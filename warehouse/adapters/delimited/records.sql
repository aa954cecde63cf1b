-- purpose: give every record its true line number: lines refused before it count too
-- grain: one row a record
-- The n-th refused line r_n stands behind r_n - header - n good lines.
CREATE OR REPLACE VIEW records AS
WITH gaps AS (
    SELECT line - @{header_line} - row_number() OVER (ORDER BY line) AS good_before,
           row_number() OVER (ORDER BY line) AS refused_before
    FROM refused
),
steps AS (
    SELECT good_before, max(refused_before) AS refused_before FROM gaps GROUP BY good_before
    UNION ALL
    SELECT -1, 0
)
SELECT cells.rowid + 1 + @{header_line} + steps.refused_before AS line, @{fields}
FROM cells
ASOF JOIN steps ON cells.rowid >= steps.good_before
