-- purpose: items the store already holds a reading of: the same value again, or another one.
--          Identities that stand more than once in the batch are told apart in `repeats`.
-- grain: one row an item and the stored row that counts now
-- The item `wins` where it was issued, else received, later; then the higher package number.
CREATE OR REPLACE TABLE matches AS
SELECT
    items.file_no,
    items.row,
    packages.package,
    stored.package AS stored_package,
    stored.row AS stored_row,
    CASE WHEN same_value(items.value, items.resolution, stored.value, stored.resolution)
         THEN 'duplicate' ELSE 'revised' END AS outcome,
    (coalesce(items.issued_at, packages.received_at), packages.package)
        > (stored.issued, stored.package) AS wins
FROM items
JOIN packages USING (file_no)
ANTI JOIN repeated USING (identity_no, ts, take)
JOIN stored
    ON stored.identity_no = items.identity_no
    AND stored.ts = items.ts
    AND stored.take = items.take
WHERE items.fault IS NULL AND items.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
