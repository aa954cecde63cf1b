-- purpose: records with their true line numbers: lines refused or blank before them count too
-- grain: one row a record
-- The n-th line of a file that is no record, r_n, stands behind r_n - header - n good lines.
CREATE OR REPLACE VIEW file_records AS
WITH gaps AS (
    SELECT
        file_no,
        line - @{header_line} - row_number() OVER (PARTITION BY file_no ORDER BY line) AS good_before,
        row_number() OVER (PARTITION BY file_no ORDER BY line) AS refused_before
    FROM file_gaps
),
steps AS (
    SELECT file_no, good_before, max(refused_before) AS refused_before
    FROM gaps
    GROUP BY file_no, good_before
    UNION ALL
    SELECT file_no, -1, 0 FROM starts
),
counted AS (
    SELECT starts.file_no, cells.rowid - starts.first_row AS good, @{fields}
    FROM cells
    JOIN starts USING (filename)
)
SELECT counted.file_no, good + 1 + @{header_line} + steps.refused_before AS line, @{fields}
FROM counted
ASOF JOIN steps ON counted.file_no = steps.file_no AND counted.good >= steps.good_before
