-- purpose: everything that is stored of what was sent, whether it counts or not
-- grain: one row a reading; not the rows that a correction of the registry wrote again
SELECT package, row FROM readings
WHERE package NOT IN (SELECT ended_by FROM superseded WHERE why = 're-placed')
