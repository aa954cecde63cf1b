-- purpose: entries of `superseded` whose reading does not exist
-- grain: one row an entry
-- A reading that a corrected registry put on no machine may be withdrawn before it is written again.
SELECT package, row FROM superseded
ANTI JOIN readings USING (package, row)
WHERE package NOT IN (SELECT ended_by FROM superseded WHERE why = 're-placed')
ORDER BY package, row
