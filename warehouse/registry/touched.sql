-- purpose: channels, stops and points whose place, or its dates, differ between two registries
-- grain: one row a place rule, scope and name
SELECT DISTINCT place_rule, scope, name FROM (
    (SELECT * FROM places_before EXCEPT SELECT * FROM places_after)
    UNION ALL
    (SELECT * FROM places_after EXCEPT SELECT * FROM places_before)
)
ORDER BY ALL
