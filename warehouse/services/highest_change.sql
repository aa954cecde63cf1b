-- purpose: number of the newest change of condition
-- grain: one row
SELECT max(seq) AS highest FROM condition_log
