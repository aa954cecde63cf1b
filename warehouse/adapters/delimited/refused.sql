-- purpose: lines without the form of a record, once each, with the first thing wrong
-- grain: one row a line; `line` counts from 1, the lines before the header included
-- Blank lines are counted among `file_gaps`, and are nothing that is refused.
CREATE OR REPLACE TABLE file_gaps AS
WITH names(column_code, column_name) AS (VALUES @{names})
SELECT
    scanned_files.file_no,
    reject_errors.line::BIGINT AS line,
    CASE WHEN error_type::VARCHAR IN ('INVALID ENCODING', 'UNQUOTED VALUE')
         THEN names.column_name END AS column_name,
    'undecodable' AS reason,
    CASE error_type::VARCHAR
        WHEN 'MISSING COLUMNS' THEN lower(error_message)
        WHEN 'TOO MANY COLUMNS' THEN lower(error_message)
        WHEN 'INVALID ENCODING' THEN 'bytes that are not of the declared encoding'
        WHEN 'UNQUOTED VALUE' THEN 'a quote that is not closed, or text behind a closing quote'
        WHEN 'LINE SIZE OVER MAXIMUM' THEN 'the line is longer than the setting max_line_bytes allows'
        ELSE error_message
    END AS detail,
    left(trim(csv_line, chr(13) || chr(10)), @{raw_length}) AS raw
FROM reject_errors
JOIN reject_scans USING (scan_id, file_id)
JOIN scanned_files ON scanned_files.filename = reject_scans.file_path
LEFT JOIN names ON names.column_code = reject_errors.column_name
QUALIFY row_number() OVER (PARTITION BY scanned_files.file_no, line ORDER BY column_idx NULLS FIRST) = 1;
CREATE OR REPLACE VIEW file_refused AS SELECT * FROM file_gaps WHERE trim(raw) <> ''
