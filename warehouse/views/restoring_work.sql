-- purpose: work after which what was learnt of a machine no longer holds (rules J4, J6): it opens a
--          candidate baseline and clears what a silent machine keeps.
-- grain: one row an event and machine; an event of a whole train is one of each of its machines.
-- columns: site, asset, member, work_id, worked_at (UTC), activity, resets (baseline, new-machine),
--          order_id.
-- depends: maintenance_current
CREATE OR REPLACE VIEW restoring_work AS
SELECT
    m.site, m.asset, m.member, c.work_id, c.worked_at, c.activity, c.resets, c.order_id
FROM maintenance_current AS c
JOIN members AS m
    ON m.site = c.site AND m.asset = c.asset AND (c.member IS NULL OR m.member = c.member)
WHERE c.resets IN ('baseline', 'new-machine');
