-- purpose: maintenance events that count: of each the latest version, unless it was cancelled
--          (rule W3). In which order versions came does not matter.
-- grain: one row an event that stands and lies before `as_of`.
-- columns: those of maintenance_events; work_id (source and event), worked_at (UTC: end of the work, else
--          its beginning), resets (what the activity table says it resets; null for an activity it
--          does not have any more).
-- depends:
CREATE OR REPLACE VIEW maintenance_current AS
WITH latest AS (
    SELECT *
    FROM maintenance_events
    QUALIFY row_number() OVER (
        PARTITION BY source, event ORDER BY version_at DESC, received_at DESC, digest DESC,
            package DESC, row DESC) = 1
)
SELECT
    l.*, l.source || '/' || l.event AS work_id, coalesce(l.ended_at, l.started_at) AS worked_at, a.resets
FROM latest AS l
LEFT JOIN activities AS a ON a.activity = l.activity
WHERE l.status = 'valid'
    AND coalesce(l.ended_at, l.started_at) <= CAST(getvariable('as_of') AS TIMESTAMPTZ);
