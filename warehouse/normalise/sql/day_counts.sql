-- purpose: how many candidates fall on each day (UTC), to cut a package into commits
-- grain: one row a day
SELECT ts::DATE AS day, count(*) AS items
FROM items
WHERE fault IS NULL
GROUP BY day
ORDER BY day
