-- purpose: the source of which some readings are worked on first; null where there are none
-- grain: one row
SELECT min(source) FROM @{name}
