-- purpose: lines without the form of a record, once each, with the first thing wrong
-- grain: one row a line; `line` counts from 1, the lines before the header included
-- Lines of nothing are counted among `file_gaps`, and are nothing that is refused. Some stand for a
-- line that was taken out before: its text is in `strays`.
CREATE OR REPLACE TABLE file_gaps AS
WITH names(column_code, column_name) AS (VALUES @{names}),
found AS (
    SELECT
        scanned_files.file_no,
        reject_errors.line::BIGINT AS line,
        reject_errors.column_idx,
        coalesce(strays.column_code, reject_errors.column_name) AS column_code,
        coalesce(strays.fault, error_type::VARCHAR) AS fault,
        error_message,
        coalesce(strays.raw, left(trim(csv_line, chr(13) || chr(10)), @{raw_length})) AS raw
    FROM reject_errors
    JOIN reject_scans USING (scan_id, file_id)
    JOIN scanned_files ON scanned_files.filename = reject_scans.file_path
    LEFT JOIN strays ON strays.file_no = scanned_files.file_no AND strays.line = reject_errors.line
)
SELECT
    file_no,
    line,
    CASE WHEN fault IN ('INVALID ENCODING', 'UNQUOTED VALUE', 'ZERO BYTE') THEN names.column_name END AS column_name,
    'undecodable' AS reason,
    CASE fault
        WHEN 'MISSING COLUMNS' THEN lower(error_message)
        WHEN 'TOO MANY COLUMNS' THEN lower(error_message)
        WHEN 'INVALID ENCODING' THEN 'bytes that are not of the declared encoding'
        WHEN 'UNQUOTED VALUE' THEN 'a quote that is not closed, or text behind a closing quote'
        WHEN 'ZERO BYTE' THEN 'a zero byte, which is no text'
        WHEN 'LINE SIZE OVER MAXIMUM' THEN 'the line is longer than the setting max_line_bytes allows'
        ELSE error_message
    END AS detail,
    raw
FROM found LEFT JOIN names USING (column_code)
QUALIFY row_number() OVER (PARTITION BY file_no, line ORDER BY column_idx NULLS FIRST) = 1;
CREATE OR REPLACE VIEW file_refused AS SELECT * FROM file_gaps WHERE trim(raw, ' ' || @{nothing}) <> ''
