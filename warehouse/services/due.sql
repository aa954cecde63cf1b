-- purpose: which machines changed since a judgement was kept, so that they are judged anew
-- grain: stands at each statement; `readings_added`, `superseded_added` and `maintenance_added` hold what came since

-- name: by_data
-- one row a machine: of readings that came, stopped counting or were in the future, of maintenance
-- that came, was amended or began to count, and of dates of the registry that have passed
WITH works AS (
    SELECT source, event FROM maintenance_added
    UNION
    SELECT source, event FROM maintenance_events
    WHERE coalesce(ended_at, started_at) > $before::TIMESTAMPTZ
        AND coalesce(ended_at, started_at) <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
),
dates AS (
    SELECT site, asset, installed_from AS moment FROM installations
    UNION ALL
    SELECT site, asset, unnest([assigned_from, assigned_to]) FROM limit_assignments
)
SELECT DISTINCT site, asset FROM readings_added
UNION
SELECT r.site, r.asset FROM readings AS r
SEMI JOIN superseded_added USING (package, row)
UNION
SELECT site, asset FROM readings
WHERE ts > $before::TIMESTAMPTZ AND ts <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
UNION
SELECT site, asset FROM maintenance_events SEMI JOIN works USING (source, event)
UNION
SELECT site, asset FROM dates
WHERE moment > $before::TIMESTAMPTZ AND moment <= CAST(getvariable('as_of') AS TIMESTAMPTZ)

-- name: superseded_otherwise
-- one row a reading that counts now and did not, or did and does not
CREATE OR REPLACE VIEW superseded_added AS
SELECT package, row FROM (
    SELECT package, row FROM superseded EXCEPT SELECT package, row FROM superseded_before
)
UNION ALL
SELECT package, row FROM (
    SELECT package, row FROM superseded_before EXCEPT SELECT package, row FROM superseded
)

-- name: by_registry
-- one row a machine of which rows of an entity of the registry came, went or changed
SELECT DISTINCT site, asset FROM (FROM entity_before EXCEPT FROM entity_now)
UNION
SELECT site, asset FROM (FROM entity_now EXCEPT FROM entity_before)

-- name: share
-- one row: how much of the readings belongs to machines that are due (1)
SELECT coalesce(sum(readings) FILTER (WHERE d.asset IS NOT NULL) / sum(readings), 0) AS share
FROM kept.streams AS s
LEFT JOIN machines_due AS d ON d.site = s.site AND d.asset = s.asset

-- name: of_due
-- one row a reading of the machines that are due: it hides the relation of all of them
CREATE OR REPLACE TEMPORARY TABLE readings AS
SELECT
    source, device, channel, quantity, detector, band, feature, method, ts, ts_source, take,
    received_at,
    site, asset, position, axis, value, unit, resolution, quality, reason, package, row
FROM memory.main.readings
SEMI JOIN machines_due USING (site, asset)

-- name: of_all
-- the readings of every machine are seen again
DROP TABLE IF EXISTS temp.readings
