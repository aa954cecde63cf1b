-- purpose: the cells the mapping names, as text, in the order of files and lines
-- grain: one row a line that has the form of a record; `rowid` counts them from 0
CREATE OR REPLACE TABLE cells AS
SELECT filename, @{cells}
FROM read_csv(
    $paths,
    filename = true,
    auto_detect = false,
    header = false,
    skip = $skip,
    delim = $delimiter,
    quote = $quote,
    escape = $quote,
    columns = $columns,
    nullstr = '',
    max_line_size = $max_line,
    strict_mode = true,
    null_padding = false,
    store_rejects = true,
    rejects_limit = 0
)
