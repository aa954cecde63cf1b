-- purpose: how many lines are no records
-- grain: one row
SELECT count(*) FROM file_gaps
