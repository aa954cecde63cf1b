-- purpose: refuse items whose reading counts already for a machine of a site that these packages may
--          not touch: a source that names its machines itself can name another one for it
-- grain: one row, how many
UPDATE items SET fault = 'other-site', ts_text = strftime(items.ts, '%Y-%m-%dT%H:%M:%SZ')
FROM (
    SELECT DISTINCT spoken.identity_no, stored_rows.ts::TIMESTAMP AS ts, stored_rows.take
    FROM stored_rows
    JOIN (SELECT *, $source AS source, $method AS method FROM identities) AS spoken
        ON @{same_stream}
    ANTI JOIN superseded
        ON superseded.package = stored_rows.package AND superseded.row = stored_rows.row
    WHERE NOT list_contains($sites::VARCHAR[], stored_rows.site)
) AS theirs
WHERE items.fault IS NULL
    AND items.identity_no = theirs.identity_no
    AND items.ts = theirs.ts
    AND items.take = theirs.take
