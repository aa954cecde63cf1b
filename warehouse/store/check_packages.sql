-- purpose: how many readings each package brought, whether they still count or not
-- grain: one row a package
SELECT package, count(*) FROM readings GROUP BY package
