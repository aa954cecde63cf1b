-- purpose: records with their line numbers, of files without refused lines
-- grain: one row a record
CREATE OR REPLACE VIEW file_records AS
SELECT starts.file_no, cells.rowid - starts.first_row + 1 + @{header_line} AS line, @{fields}
FROM cells
JOIN starts USING (filename)
