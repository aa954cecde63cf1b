-- purpose: the values of repeated identities, of the batch and of the store, in the order they came
-- grain: one row a value (`file_no` given where it is of the batch)
-- Order decides by data alone: issued, else received; then package; then place in the file. What is
-- stored is `kept`; an item is `kept` unless it is the same as its neighbour before it: that is the
-- last kept one, or a copy of it, and `chains_again` tells where that makes a difference.
CREATE OR REPLACE TABLE chains AS
WITH told AS (
    SELECT
        items.identity_no, items.ts, items.take, items.file_no, items.row, packages.package,
        items.value, items.resolution, coalesce(items.issued_at, packages.received_at) AS issued,
        false AS ended
    FROM items
    SEMI JOIN repeated USING (identity_no, ts, take)
    JOIN packages USING (file_no)
    WHERE items.fault IS NULL AND items.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
    UNION ALL
    SELECT identity_no, ts, take, NULL, row, package, value, resolution, issued, ended
    FROM stored
    SEMI JOIN repeated USING (identity_no, ts, take)
)
SELECT *,
    row_number() OVER in_order AS place,
    file_no IS NULL OR lag(package) OVER in_order IS NULL OR NOT same_value(
        value, resolution, lag(value) OVER in_order, lag(resolution) OVER in_order
    ) AS kept
FROM told
WINDOW in_order AS (PARTITION BY identity_no, ts, take ORDER BY issued, package, row)
