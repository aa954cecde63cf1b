-- purpose: cases as they are asked for over HTTP, one statement each
-- grain: see each statement

-- name: list
-- One row a case, the most urgent first, closed ones last.
SELECT
    c.case_id, c.site, c.asset, c.member, a.name AS asset_name, a.area,
    a.external_id AS asset_external_id, m.external_id AS member_external_id,
    m.equipment_class AS class, c.criticality, c.basis, c.state, c.level, c.level_since,
    c.worst_told, c.opened_at, c.cleared_at, c.priority, c.verify_by, c.plan_by, s.action_class,
    s.respond_by, s.overdue, s.needs_outage, s.evidence, s.condition_since, s.next_step, s.confirmed,
    c.confirmed_by, c.disposition, c.until, c.owner, c.order_id, c.done_by
FROM cases AS c
LEFT JOIN assets AS a ON a.site = c.site AND a.asset = c.asset
LEFT JOIN members AS m ON m.site = c.site AND m.asset = c.asset AND m.member = c.member
LEFT JOIN case_summaries AS s ON s.case_id = c.case_id
ORDER BY
    c.state = 'closed', c.cleared_at IS NOT NULL, c.priority NULLS LAST, c.level_since, c.case_id

-- name: notices
-- Notifications behind a number, in order, with the ids the maintenance system knows.
SELECT
    n.notice, n.case_id, n.kind, n.happened_at, n.site, n.asset, n.member,
    a.external_id AS asset_external_id, m.external_id AS member_external_id, n.basis, n.state,
    n.level, n.level_since, n.opened_at, n.cleared_at, n.disposition, n.until, n.owner, n.order_id,
    n.confirmed_by, n.person, n.comment, n.reason
FROM case_notifications AS n
LEFT JOIN assets AS a ON a.site = n.site AND a.asset = n.asset
LEFT JOIN members AS m ON m.site = n.site AND m.asset = n.asset AND m.member = n.member
WHERE n.notice > $after
    AND ($site::VARCHAR[] IS NULL OR list_contains($site::VARCHAR[], n.site))
ORDER BY n.notice
LIMIT $limit

-- name: last_notice
SELECT max(notice) AS notice FROM case_notifications
