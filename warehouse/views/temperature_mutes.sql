-- purpose: spells in which temperatures of a machine mean nothing, since it was greased (rule J13).
-- grain: one row an event and machine.
-- columns: site, asset, member, muted_from, muted_until (UTC), work_id.
-- depends: maintenance_current, setting
CREATE OR REPLACE VIEW temperature_mutes AS
SELECT
    m.site, m.asset, m.member, c.started_at AS muted_from,
    c.worked_at + to_hours(setting('temperature_mute_hours')::BIGINT) AS muted_until, c.work_id
FROM maintenance_current AS c
JOIN members AS m
    ON m.site = c.site AND m.asset = c.asset AND (c.member IS NULL OR m.member = c.member)
WHERE c.resets = 'temperature-mute';
