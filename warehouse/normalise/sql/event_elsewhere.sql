-- purpose: events of the source that count, or would if they were valid, for a machine of another site
--          than these packages may touch; none where they may touch all
-- grain: one row an event
-- What the packages have stored themselves, by an attempt before, was theirs to store.
CREATE OR REPLACE TABLE event_elsewhere AS
SELECT event
FROM (
    SELECT event, site
    FROM stored_events
    WHERE source = $source
    QUALIFY row_number() OVER (
        PARTITION BY event
        ORDER BY version_at DESC, received_at DESC, digest DESC, package DESC, row DESC) = 1
)
WHERE NOT coalesce(list_contains($sites::VARCHAR[], site), true)
    AND event NOT IN (
        SELECT event FROM stored_events
        WHERE source = $source AND package IN (SELECT package FROM event_packages));
