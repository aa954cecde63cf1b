-- purpose: what becomes of every sound event: dropped as a copy, or stored, as a revision or anew
-- grain: one row a sound record
-- A version that its source declares is a copy where the same version is there. Without one, the
-- receipt is the version, and what says the same as the version before it is a copy. Rows of the
-- package itself, stored by an attempt that was stopped, do not count as others.
CREATE OR REPLACE TABLE event_fates AS
WITH others AS (
    SELECT event, version_at, digest, package, row
    FROM stored_events
    WHERE source = $source AND package NOT IN (SELECT package FROM event_packages)
    UNION ALL
    SELECT event, version_at, digest, package, row FROM event_items WHERE reason IS NULL
)
SELECT
    i.file_no, i.package, i.row, i.line,
    EXISTS (
        FROM others AS o WHERE o.event = i.event AND o.version_at = i.version_at
            AND o.digest = i.digest AND (o.package, o.row) < (i.package, i.row)
    ) OR coalesce(NOT i.declared AND i.digest = (
        SELECT o.digest FROM others AS o
        WHERE o.event = i.event
            AND (o.version_at, o.package, o.row) < (i.version_at, i.package, i.row)
        ORDER BY o.version_at DESC, o.package DESC, o.row DESC
        LIMIT 1
    ), false) AS copy,
    EXISTS (
        FROM others AS o WHERE o.event = i.event AND (o.package, o.row) < (i.package, i.row)
    ) AS known
FROM event_items AS i
WHERE i.reason IS NULL;
