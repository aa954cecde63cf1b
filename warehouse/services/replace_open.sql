-- purpose: readings that stay on no machine, by re-placing package
-- grain: one row a package
SELECT waiting.ended_by AS package, count(*) AS items
FROM waiting
ANTI JOIN written ON written.ended_by = waiting.ended_by AND written.new_row = waiting.new_row
GROUP BY waiting.ended_by
