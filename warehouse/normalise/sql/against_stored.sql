-- purpose: items the store already holds a reading of: the same value again, or another one
-- grain: one row an item and the stored row that counts now
-- The item `wins` where it was issued, else received, later; then the higher package number.
CREATE OR REPLACE TABLE matches AS
WITH candidates AS (
    SELECT
        items.*, packages.package, coalesce(items.issued_at, packages.received_at) AS issued,
        $source AS source, $method AS method, identities.* EXCLUDE (identity_no)
    FROM items
    JOIN packages USING (file_no)
    JOIN identities USING (identity_no)
    WHERE items.fault IS NULL AND items.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
)
SELECT
    candidates.file_no,
    candidates.row,
    candidates.package,
    stored.package AS stored_package,
    stored.row AS stored_row,
    CASE WHEN same_value(candidates.value, candidates.resolution, stored.value, stored.resolution)
         THEN 'duplicate' ELSE 'revised' END AS outcome,
    (candidates.issued, candidates.package)
        > (coalesce(stored.issued_at, stored.received_at), stored.package) AS wins
FROM candidates
JOIN stored ON @{same_reading}
