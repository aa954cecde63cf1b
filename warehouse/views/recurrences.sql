-- purpose: what came back: a machine in alert or worse again on the same basis, or failed again in
--          the same mode, within `repeat_days`. Counted by machine, so sensors do not matter.
-- grain: one row a time that something came back before `as_of`.
-- columns: site, asset, member, kind (alarm, failure), what (basis, or failure mode of ISO 14224),
--          happened_at, before_at (UTC: this time, and the time before).
-- depends: level_spells, maintenance_current, setting
CREATE OR REPLACE VIEW recurrences AS
WITH happened AS (
    SELECT site, asset, member, 'alarm' AS kind, basis AS what, since AS happened_at
    FROM level_spells
    WHERE scope = 'member' AND (came_back OR found)
    UNION ALL
    SELECT site, asset, member, 'failure', as_found, started_at
    FROM maintenance_current
    WHERE failure = 'functional' AND as_found NOT IN ('OTH', 'UNK')
),
paired AS (
    SELECT *, lag(happened_at) OVER (
        PARTITION BY site, asset, member, kind, what ORDER BY happened_at) AS before_at
    FROM happened
)
SELECT *
FROM paired
WHERE happened_at - before_at <= to_seconds(86400 * setting('repeat_days'));
