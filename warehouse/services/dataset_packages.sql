-- purpose: what the dataset itself tells of the packages of one inbox, by the inbox numbers it has had
-- grain: one row a package that has readings, or maintenance events
WITH ended AS (
    SELECT
        ended_by AS package,
        count(*) FILTER (WHERE why = 'revision') AS revised,
        bool_or(why = 're-placed') AS replaced
    FROM superseded GROUP BY ended_by
),
withdrawn AS (
    SELECT DISTINCT package FROM superseded WHERE why = 'retracted'
)
SELECT
    package - $base AS seq,
    min(source) AS source,
    min(mapping) AS mapping,
    strftime(max(received_at), '%Y-%m-%dT%H:%M:%S.%f+00:00') AS received_at,
    count(*) AS stored,
    least(count(*), coalesce(any_value(revised), 0)) AS revised,
    coalesce(any_value(replaced), false) AS replaced,
    package IN (SELECT package FROM withdrawn) AS withdrawn
FROM (
    SELECT package, source, mapping, received_at FROM readings
    UNION ALL
    SELECT package, source, mapping, received_at FROM maintenance_events
) LEFT JOIN ended USING (package)
WHERE list_contains($inboxes, package // $numbers)
GROUP BY package
ORDER BY package
