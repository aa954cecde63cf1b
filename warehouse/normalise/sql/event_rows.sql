-- purpose: versions of events to be stored, in the columns of `maintenance_events`
-- grain: one row a version
SELECT
    $source AS source, i.event, i.version_at, i.status, i.site, i.asset, i.member, i.type,
    i.activity, i.severity, i.failure, i.as_found, i.started_at, i.ended_at, i.down_hours, i.cost,
    i.order_id, i.note, i.digest, i.package, i.row, $mapping AS mapping, i.received_at
FROM event_items AS i
JOIN event_fates AS f ON f.package = i.package AND f.row = i.row
ANTI JOIN stored_events AS s ON s.package = i.package AND s.row = i.row
WHERE NOT f.copy
ORDER BY i.event, i.version_at
