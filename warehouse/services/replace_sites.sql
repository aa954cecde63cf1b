-- purpose: sites where the changed channels and stops were before the change
-- grain: one row a site
SELECT DISTINCT site FROM places_before
SEMI JOIN touched
    ON touched.place_rule = places_before.place_rule
    AND touched.scope = places_before.scope
    AND touched.name = places_before.name
