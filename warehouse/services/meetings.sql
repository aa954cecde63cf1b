-- purpose: the meeting sheet and the outage list (rule W6), one statement each
-- grain: see each statement

-- name: sites
SELECT site FROM sites

-- name: since
-- The day of the last meeting where none is named.
SELECT CAST(CAST(getvariable('as_of') AS TIMESTAMPTZ) AS DATE) - setting('meeting_days')::INTEGER
    AS since

-- name: next
-- The window behind one, where none is named: as long, one interval later.
SELECT first_day + shift AS next_first, last_day + shift AS next_last
FROM (
    SELECT first_day, last_day,
        CAST(greatest(setting('outage_interval_days'), last_day - first_day + 1) AS INTEGER)
            AS shift
    FROM (SELECT CAST($first AS DATE) AS first_day, CAST($last AS DATE) AS last_day)
)

-- name: standing
-- How much is open and silent at all.
SELECT
    (SELECT count(*) FROM cases WHERE state <> 'closed' AND ($site IS NULL OR site = $site))
        AS open_cases,
    (SELECT count(*) FROM condition_current WHERE scope = 'member' AND basis = 'no-fresh-reading'
        AND ($site IS NULL OR site = $site)) AS silent_machines,
    (SELECT count(*) FROM condition_current WHERE scope = 'member'
        AND ($site IS NULL OR site = $site)) AS machines

-- name: machines
-- What `standing` and `without_outage` count, one row a machine: to be chosen from by what it is.
SELECT
    coalesce(j.site, c.site) AS site, coalesce(j.asset, c.asset) AS asset,
    coalesce(j.member, c.member) AS member, a.area, a.criticality, m.equipment_class AS class,
    j.site IS NOT NULL AS judged, coalesce(j.basis = 'no-fresh-reading', false) AS silent,
    coalesce(c.open_cases, 0) AS open_cases, coalesce(c.without_outage, 0) AS without_outage
FROM (SELECT * FROM condition_current WHERE scope = 'member') AS j
FULL JOIN (
    SELECT site, asset, member, count(*) AS open_cases,
        count(*) FILTER (kind = 'none') AS without_outage
    FROM case_outages
    GROUP BY ALL
) AS c ON c.site = j.site AND c.asset = j.asset AND c.member = j.member
LEFT JOIN assets AS a ON a.site = coalesce(j.site, c.site) AND a.asset = coalesce(j.asset, c.asset)
LEFT JOIN members AS m ON m.site = coalesce(j.site, c.site) AND m.asset = coalesce(j.asset, c.asset)
    AND m.member = coalesce(j.member, c.member)

-- name: sheet
-- One row a heading and a case under it, or a heading and a machine that went silent.
WITH span AS MATERIALIZED (
    SELECT site, time_zone, timezone(time_zone, CAST($since AS TIMESTAMP)) AS since
    FROM sites WHERE $site IS NULL OR site = $site
),
events AS (
    SELECT e.*, s.since, s.time_zone, l.words AS limits_changed,
        list_position(['unknown', 'normal', 'watch', 'alert', 'danger'], e.level) AS height
    FROM case_events AS e
    JOIN span AS s ON s.site = e.site
    LEFT JOIN limit_changes AS l ON e.cause = 'change' AND e.cause_id = CAST(l.change AS VARCHAR)
),
then_ AS (
    SELECT case_id, level, state, cleared_at, height
    FROM events WHERE happened_at < since
    QUALIFY row_number() OVER (PARTITION BY case_id ORDER BY seq DESC) = 1
),
meanwhile AS (
    SELECT
        case_id, arg_max(level, (height, seq)) AS highest_level, max(height) AS highest,
        bool_or(kind = 'opened') AS opened,
        arg_max(level, seq) FILTER (kind = 'opened') AS opened_level,
        max(height) FILTER (kind = 'opened') AS opened_height,
        string_agg('limits changed ' || strftime(timezone(time_zone, happened_at), '%Y-%m-%d')
            || ': ' || limits_changed, '; ' ORDER BY seq) AS limits_changed,
        bool_or(kind = 'repair-not-effective') AS not_effective,
        max(happened_at) FILTER (kind IN ('deferral-expired', 'acceptance-expired')) AS expired_at,
        arg_max(coalesce(comment, reason), seq) FILTER (kind = 'closed') AS closed_because,
        max(happened_at) FILTER (kind = 'closed') AS closed_at
    FROM events WHERE happened_at >= since
    GROUP BY case_id
),
standing AS (
    SELECT
        c.case_id, c.priority, c.criticality, c.site, c.asset, c.member, c.basis, c.level,
        c.level_since, c.state, c.disposition, c.until, c.owner, c.order_id, c.cleared_at,
        p.since, p.time_zone, t.level AS level_then, t.state AS state_then, t.cleared_at AS cleared_then,
        t.height AS height_then, m.* EXCLUDE (case_id),
        c.state <> 'closed' AND c.cleared_at IS NULL AS stands,
        list_position(['unknown', 'normal', 'watch', 'alert', 'danger'], c.level) AS height,
        coalesce(s.evidence, m.closed_because) AS reason, s.respond_by, coalesce(s.overdue, false)
            AS overdue, s.condition_since, s.next_step, s.action_class, s.confirmed
    FROM cases AS c
    JOIN span AS p ON p.site = c.site
    LEFT JOIN then_ AS t ON t.case_id = c.case_id
    LEFT JOIN meanwhile AS m ON m.case_id = c.case_id
    LEFT JOIN case_summaries AS s ON s.case_id = c.case_id
),
headed AS (
    SELECT 1 AS place, 'new' AS heading, concat_ws(', ', 'opened at ' || opened_level,
            CASE WHEN highest > greatest(opened_height, height)
                THEN highest_level || ' in between' END,
            CASE WHEN height > opened_height THEN level || ' since '
                    || strftime(timezone(time_zone, level_since), '%Y-%m-%d')
                WHEN highest > height THEN 'now ' || level END)
        AS change, *
    FROM standing WHERE opened AND stands
    UNION ALL
    SELECT 2, 'worse', CASE
            WHEN not_effective AND height <= height_then THEN 'the work did not help'
            WHEN state_then = 'closed' THEN 'closed last time, open again at ' || level
            WHEN cleared_then IS NOT NULL THEN 'cleared last time, back at ' || level
            WHEN height > height_then THEN level_then || ' to ' || level
            ELSE highest_level || ' in between, ' || level || ' again' END, *
    FROM standing
    WHERE NOT coalesce(opened, false) AND stands AND height_then IS NOT NULL
        AND (height > height_then OR highest > height_then OR not_effective
            OR state_then = 'closed' OR cleared_then IS NOT NULL)
    UNION ALL
    SELECT 3, 'cleared', CASE WHEN state = 'closed'
            THEN 'closed as ' || disposition || coalesce(' until ' || strftime(timezone(time_zone, until),
                '%Y-%m-%d'), '')
            ELSE level_then_words || 'clear since '
                || strftime(timezone(time_zone, cleared_at), '%Y-%m-%d') END,
        * EXCLUDE (level_then_words)
    FROM (SELECT *, coalesce(level_then || ' last time, ', '') AS level_then_words FROM standing)
    WHERE (state = 'closed' AND closed_at IS NOT NULL)
        OR (state <> 'closed' AND cleared_at IS NOT NULL AND cleared_at >= since)
    UNION ALL
    SELECT 4, 'overdue', CASE WHEN respond_by >= since THEN 'since this time'
            ELSE 'last time already' END, *
    FROM standing WHERE overdue
    UNION ALL
    SELECT 5, 'deferral expired', 'put off or borne until '
        || strftime(timezone(time_zone, expired_at), '%Y-%m-%d'), *
    FROM standing WHERE expired_at IS NOT NULL AND state <> 'closed'
),
silent AS (
    SELECT c.*, s.since AS span_since
    FROM condition_current AS c
    JOIN span AS s ON s.site = c.site
    WHERE c.scope = 'member' AND c.basis = 'no-fresh-reading' AND (c.site, c.asset, c.member) IN (
        SELECT (l.site, l.asset, l.member) FROM (
            SELECT * FROM condition_log WHERE scope = 'member'
            QUALIFY row_number() OVER (PARTITION BY site, asset, member ORDER BY seq DESC) = 1
        ) AS l
        JOIN span AS p ON p.site = l.site
        WHERE l.basis = 'no-fresh-reading' AND l.judged_at >= p.since
    )
),
listed AS (
    SELECT place, heading,
        change || coalesce('; ' || limits_changed, '') AS change,
        case_id, priority, site, asset, member, basis, level, level_since,
        condition_since, state, disposition, reason, owner, order_id, respond_by, action_class, confirmed, next_step
    FROM headed
    UNION ALL BY NAME
    SELECT 6 AS place, 'silent' AS heading,
        coalesce('was ' || n.last_level, 'was never judged') AS change, n.site, n.asset, n.member,
        n.basis, n.level, n.measured_at AS level_since, n.reason, n.next_step
    FROM silent AS n
)
SELECT
    h.heading, h.change, h.case_id, h.priority, h.site, h.asset, a.name AS asset_name, a.area,
    a.criticality, a.external_id AS asset_external_id, h.member,
    m.external_id AS member_external_id, m.equipment_class AS class, h.basis, h.level, h.level_since,
    h.condition_since, h.state, h.disposition, h.reason, j.evidence_position AS position, j.evidence_axis AS axis, j.quantity, j.detector,
    j.value, j.unit, j.boundary_b_c, j.boundary_c_d, j.measured_at, h.owner, h.order_id,
    h.respond_by, h.action_class, h.confirmed, h.next_step
FROM listed AS h
LEFT JOIN assets AS a ON a.site = h.site AND a.asset = h.asset
LEFT JOIN members AS m ON m.site = h.site AND m.asset = h.asset AND m.member = h.member
LEFT JOIN condition_current AS j
    ON j.scope = 'member' AND j.site = h.site AND j.asset = h.asset AND j.member = h.member
ORDER BY h.place, h.priority NULLS LAST, h.level_since, h.site, h.asset, h.member, h.case_id

-- name: outage
-- One row an open case that needs, or may need, an outage: under which heading, and why.
WITH span AS MATERIALIZED (
    SELECT site, time_zone, timezone(time_zone, CAST($first AS TIMESTAMP)) AS starts_at,
        timezone(time_zone, CAST($next_first AS TIMESTAMP)) AS next_at
    FROM sites WHERE $site IS NULL OR site = $site
),
weighed AS (
    SELECT
        c.*, m.equipment_class AS class, s.time_zone, s.starts_at, s.next_at,
        coalesce(c.level = 'danger' AND c.cleared_at IS NULL, false) AS endangered,
        coalesce(c.deadline < s.next_at, false) AS is_due,
        coalesce(c.boundary_from < s.next_at, false) AS reaches,
        coalesce(least(c.deadline, c.boundary_from) < s.starts_at, false) AS before_window
    FROM case_outages AS c
    JOIN span AS s ON s.site = c.site
    LEFT JOIN members AS m ON m.site = c.site AND m.asset = c.asset AND m.member = c.member
    WHERE c.kind <> 'none'
),
headed AS (
    SELECT
        *,
        CASE
            WHEN kind = 'to-verify' THEN 'to verify first'
            WHEN endangered OR is_due OR reaches THEN 'must go in'
            WHEN estimate IS NULL THEN 'no estimate'
            ELSE 'can wait'
        END AS heading,
        concat_ws('; ',
            CASE WHEN endangered OR (before_window AND (is_due OR reaches))
                THEN 'do not wait for the window' END,
            CASE WHEN kind = 'to-verify' THEN 'it may need the outage once it is verified' END,
            CASE WHEN endangered THEN 'in danger' END,
            CASE WHEN is_due THEN CASE kind WHEN 'to-verify' THEN 'verify by ' ELSE 'respond by ' END
                || strftime(timezone(time_zone, deadline), '%Y-%m-%d') END,
            CASE WHEN state = 'deferred'
                THEN 'put off until ' || strftime(timezone(time_zone, until), '%Y-%m-%d') END,
            CASE WHEN cleared_at IS NOT NULL THEN 'cleared, the work is still asked for' END,
            coalesce(estimate, 'no time to a boundary can be told: ' || coalesce(distrust, trend,
                'no trend is judged'))) AS why
    FROM weighed
)
SELECT
    heading, why, case_id, priority, site, asset, asset_name, area, criticality, asset_external_id,
    member, member_external_id, class, power_kw, basis, level, level_since,
    condition_since, state, evidence AS reason, position, axis, quantity, detector, value, unit,
    boundary_b_c, boundary_c_d, measured_at, limit_edition, confidence,
    assumed, distrust, observations, boundary, boundary_on, boundary_from, estimate, deadline, respond_by,
    before_window, action_class, confirmed, owner, order_id, duty_group, standby, standby_words,
    bearing, coupling, area_classification, next_step
FROM headed
ORDER BY list_position(['must go in', 'to verify first', 'no estimate', 'can wait'], heading),
    priority NULLS LAST, least(deadline, boundary_from) NULLS LAST, case_id

-- name: without_outage
-- Open cases that are not on the list: work on them needs no outage, or none is called for.
SELECT count(*) AS cases FROM case_outages WHERE kind = 'none' AND ($site IS NULL OR site = $site)
