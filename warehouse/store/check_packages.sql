-- purpose: how many readings, or versions of maintenance events, each package brought, whether they
--          still count or not
-- grain: one row a package
SELECT package, count(*)
FROM (SELECT package FROM readings UNION ALL SELECT package FROM maintenance_events)
GROUP BY package
