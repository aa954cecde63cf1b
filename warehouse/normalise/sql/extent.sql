-- purpose: how many candidates for readings there are, and from when to when
-- grain: one row
SELECT count(*) AS candidates, min(ts) AS first, max(ts) AS last FROM items WHERE fault IS NULL
