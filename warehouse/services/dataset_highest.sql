-- purpose: the highest sequence of one inbox that the dataset has seen, with readings or without
-- grain: one row
SELECT coalesce(max(package), $base) - $base AS seq
FROM (
    SELECT package FROM readings
    UNION ALL SELECT package FROM rejects
    UNION ALL SELECT package FROM maintenance_events
    UNION ALL SELECT ended_by FROM superseded
)
WHERE list_contains($inboxes, package // $numbers)
