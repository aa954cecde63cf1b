-- purpose: rows as JSON objects, one a line, times as RFC 3339 and no number that JSON has not
-- grain: one row a row of relation `rows`
SELECT to_json(r)::VARCHAR AS line FROM (SELECT @{columns} FROM rows_given) AS r
