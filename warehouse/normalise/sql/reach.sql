-- purpose: times and devices of the items of these days: only files that span some can hold copies
-- grain: one row
SELECT min(items.ts), max(items.ts), min(keys.device), max(keys.device)
FROM items JOIN keys USING (key_no)
WHERE items.fault IS NULL AND items.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
