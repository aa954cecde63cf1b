-- purpose: time of the newest reading
-- grain: one row
SELECT max(ts) AS newest FROM readings
