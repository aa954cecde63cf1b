-- purpose: a table without data files: its columns, no rows
-- grain: that of the table
CREATE OR REPLACE VIEW @{name} AS SELECT @{columns} WHERE false
