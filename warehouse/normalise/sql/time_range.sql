-- purpose: from when to when the items of these days are: only files of that time can hold copies
-- grain: one row
SELECT min(ts), max(ts)
FROM items
WHERE fault IS NULL AND ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
