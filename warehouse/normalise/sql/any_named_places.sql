-- purpose: whether a record says itself where it belongs; by mountings the registry alone does
-- grain: one row
SELECT coalesce(bool_or(place_rule <> 'mounting'), false) FROM keys
