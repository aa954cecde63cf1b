-- purpose: machines that what is taken in may speak of: those of its own sites
-- grain: one row a machine, or a member of one, of the registry
SELECT * FROM every_machine
WHERE coalesce(list_contains($sites::VARCHAR[], site), true)
