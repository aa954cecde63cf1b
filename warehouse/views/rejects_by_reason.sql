-- purpose: what was ever refused and why, also what came in since (`mcw rejects` tells what is
--          open). Raw rows are kept for the first 1,000 a package and reason, so large counts are
--          lower bounds; the ledger has all.
-- grain: one row a source and reason.
-- columns: source, reason, rows_kept, packages (counts), first_received, last_received (UTC),
--          example_file, example_detail, example_raw (the first row kept).
-- depends: rejects_newest
CREATE OR REPLACE VIEW rejects_by_reason AS
SELECT
    source, reason,
    count(*) AS rows_kept,
    count(DISTINCT package) AS packages,
    min(received_at) AS first_received,
    max(received_at) AS last_received,
    arg_min(file, (package, "row")) AS example_file,
    arg_min(detail, (package, "row")) AS example_detail,
    arg_min("raw", (package, "row")) AS example_raw
FROM rejects_newest
GROUP BY source, reason;
