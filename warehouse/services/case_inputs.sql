-- purpose: what cases are decided from, one statement each
-- grain: see each statement

-- name: changes
-- Changes of machines that ever stood at a level, in order.
SELECT seq, site, asset, member, judged_at AS changed_at, basis, level_to AS level, reason,
    measured_at
FROM condition_log
WHERE scope = 'member' AND (site, asset, member) IN (
    SELECT (site, asset, member) FROM condition_log
    WHERE scope = 'member' AND level_to IN ('watch', 'alert', 'danger')
)
ORDER BY seq

-- name: works
-- Events of machines.
SELECT
    m.site, m.asset, m.member, c.work_id, c.worked_at, c.order_id, c.activity AS words,
    coalesce(c.resets IN ('baseline', 'new-machine'), false) AS restoring
FROM maintenance_current AS c
JOIN members AS m
    ON m.site = c.site AND m.asset = c.asset AND (c.member IS NULL OR m.member = c.member)

-- name: effects
-- What restoring work came to, as far as there is enough to compare.
SELECT site, asset, member, work_id, outcome, outcome_at, activity || ': ' || words AS words
FROM repair_effects
WHERE outcome IS NOT NULL

-- name: figures
SELECT key, value FROM judging_defaults WHERE key IN ('case_opens_from', 'case_rejoin_days')

-- name: highest_change
SELECT coalesce(max(seq), 0) AS seq FROM condition_log

-- name: list
-- Cases, the most urgent first; open ones only, unless all are asked for.
SELECT
    case_id, priority, site, asset, member, basis, level, state, level_since, owner, order_id,
    disposition, until, cleared_at, worst_told, opened_at, criticality, confirmed_by, done_by
FROM cases
WHERE ($site IS NULL OR site = $site) AND ($every OR state <> 'closed')
ORDER BY state = 'closed', cleared_at IS NOT NULL, priority NULLS LAST, level_since, case_id

-- name: summary
SELECT * FROM case_summaries WHERE case_id = $case_id

-- name: measured
-- The value that governs the machine now, in canonical units.
SELECT
    evidence_position AS position, evidence_axis AS axis, quantity, detector, value, unit, baseline,
    boundary_a_b, boundary_b_c, boundary_c_d, boundary_watch, boundary_alert, measured_at
FROM condition_current
WHERE scope = 'member' AND site = $site AND asset = $asset AND member = $member

-- name: standing
SELECT * FROM cases WHERE case_id = $case_id

-- name: life
SELECT e.* EXCLUDE (through_change, through_action), l.words AS limits_changed
FROM case_events AS e
LEFT JOIN limit_changes AS l ON e.cause = 'change' AND e.cause_id = CAST(l.change AS VARCHAR)
WHERE e.case_id = $case_id ORDER BY e.seq

-- name: notices
SELECT * FROM case_notifications WHERE notice > $after ORDER BY notice

-- name: suppressions
SELECT * FROM case_suppressions ORDER BY site, asset, member, basis

-- name: any_repair
SELECT work_id FROM restoring_work
WHERE site = $site AND asset = $asset AND member = $member LIMIT 1

-- name: repairs
SELECT * FROM repair_effects WHERE site = $site AND asset = $asset AND member = $member
ORDER BY worked_at
