-- purpose: where each file begins among the cells
-- grain: one row a file that has records
CREATE OR REPLACE TABLE starts AS
SELECT file_no, filename, min(cells.rowid) AS first_row
FROM cells
JOIN scanned_files USING (filename)
GROUP BY file_no, filename
