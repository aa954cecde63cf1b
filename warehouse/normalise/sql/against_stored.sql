-- purpose: items the store already holds a reading of: the same value again, or another one
-- grain: one row an item and the stored row that counts now
-- The item `wins` where it was issued, else received, later; then the higher package number.
CREATE OR REPLACE TABLE matches AS
SELECT
    items.row,
    stored.package AS stored_package,
    stored.row AS stored_row,
    CASE WHEN same_value(items.value, items.resolution, stored.value, stored.resolution)
         THEN 'duplicate' ELSE 'revised' END AS outcome,
    (coalesce(items.issued_at, $received_at::TIMESTAMPTZ::TIMESTAMP), $package)
        > (coalesce(stored.issued_at, stored.received_at), stored.package) AS wins
FROM items
JOIN identities USING (identity_no)
JOIN stored
    ON stored.device = identities.device
    AND stored.channel = identities.channel
    AND stored.quantity = identities.quantity
    AND stored.detector = identities.detector
    AND stored.band IS NOT DISTINCT FROM identities.band
    AND stored.feature = identities.feature
    AND stored.ts = items.ts
    AND stored.take = items.take
WHERE items.fault IS NULL AND items.ts BETWEEN $first::TIMESTAMP AND $last::TIMESTAMP
