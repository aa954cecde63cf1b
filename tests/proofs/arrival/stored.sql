-- purpose: everything that is stored, whether it counts or not
-- grain: one row a reading
SELECT package, row FROM readings
