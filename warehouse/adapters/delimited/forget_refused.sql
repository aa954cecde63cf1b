-- purpose: what the parser refused in a scan before this one
-- grain: none
DROP TABLE IF EXISTS reject_errors;
DROP TABLE IF EXISTS reject_scans
