-- purpose: how many lines were refused
-- grain: one row
SELECT count(*) FROM file_refused
