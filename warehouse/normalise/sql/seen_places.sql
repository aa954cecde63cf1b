-- purpose: places that what is taken in may speak of: of its own sites, and of the route of its sheet
-- grain: one row a place of the registry
SELECT * FROM every_place
WHERE coalesce(list_contains($sites::VARCHAR[], site), true)
    AND (place_rule <> 'stop' OR coalesce(scope = $route::VARCHAR, true))
