-- purpose: the rows of the files that one new file takes the place of, in stored order
-- grain: that of the table
SELECT @{columns} FROM before ORDER BY @{order}
