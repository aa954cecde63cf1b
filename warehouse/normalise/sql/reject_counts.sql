-- purpose: how many items were refused, by reason; complete, unlike the kept rows
-- grain: one row a reason
SELECT reason, sum(items)::BIGINT AS items
FROM (
    SELECT fault AS reason, count(*) AS items FROM items WHERE fault IS NOT NULL GROUP BY fault
    UNION ALL
    SELECT reason, count(*) AS items FROM refused GROUP BY reason
)
GROUP BY reason
ORDER BY reason
