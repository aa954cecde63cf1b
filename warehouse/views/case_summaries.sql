-- purpose: what a planner needs of every case that is open (rule W2).
-- grain: one row an open case.
-- columns: case_id, site, asset, member, asset_name, area, asset_external_id, member_external_id,
--          criticality, priority, state, level, level_since, opened_at, cleared_at (UTC), basis,
--          owner, order_id, until (UTC, of a deferral), disposition, evidence (words, of the case's
--          basis); condition_since (site-local day since when the condition is that bad or worse;
--          null while another basis governs); of what governs the machine now: position, axis,
--          value, unit, distrust, observations, trend, blind_to; of the limits of the case's
--          basis: limit_edition (null where the basis has no standard), confidence, verified,
--          assumed; action_class
--          (repeat, inspect-running, inspect-stopped, plan-repair), respond_by (UTC; after work: until
--          when it wants to be measured again), overdue, needs_outage, bearing, coupling, area_classification,
--          confirmed, confirmed_by, done_by, next_step (words: of the case's state and action).
-- depends: cases, asset_running, setting
CREATE OR REPLACE VIEW case_summaries AS
WITH judged AS (
    SELECT * FROM condition_current WHERE scope = 'member'
),
fitted AS (
    SELECT i.site, i.asset, i.member, u.bearing_de, u.bearing_nde
    FROM installations AS i
    JOIN units AS u ON u.serial = i.serial
    WHERE i.installed_to IS NULL
    QUALIFY row_number() OVER (PARTITION BY i.site, i.asset, i.member
        ORDER BY i.installed_from DESC) = 1
),
joined AS (
    SELECT
        c.*, a.name AS asset_name, a.area, a.external_id AS asset_external_id, a.service_state,
        m.external_id AS member_external_id, m.drive AS coupling,
        o.reason AS opened_reason, j.reason, j.basis AS basis_now, j.evidence_position,
        j.evidence_axis, j.value, j.unit, j.limit_edition, j.limit_confidence, j.limit_verified,
        j.assumed, j.distrust, j.observations, j.trend_reason, j.blind_to, j.since,
        j.next_step AS next_of_condition, o.done_at, coalesce(z.time_zone, 'UTC') AS time_zone,
        coalesce(c.resumes, c.state) AS phase,
        coalesce(p.bearing, CASE
            WHEN j.evidence_position LIKE '%-nde' THEN f.bearing_nde
            WHEN j.evidence_position LIKE '%-de' THEN f.bearing_de END) AS bearing,
        p.area_classification,
        coalesce(r.at_rest, false) AS at_rest
    FROM cases AS c
    LEFT JOIN (
        SELECT
            case_id,
            arg_max(reason, seq) FILTER (kind IN ('opened', 'worsened', 'eased', 'returned',
                'reopened')) AS reason,
            arg_max(happened_at, seq) FILTER (kind = 'done') AS done_at
        FROM case_events
        GROUP BY case_id
    ) AS o ON o.case_id = c.case_id
    LEFT JOIN sites AS z ON z.site = c.site
    LEFT JOIN assets AS a ON a.site = c.site AND a.asset = c.asset
    LEFT JOIN members AS m ON m.site = c.site AND m.asset = c.asset AND m.member = c.member
    LEFT JOIN judged AS j ON j.site = c.site AND j.asset = c.asset AND j.member = c.member
    LEFT JOIN points AS p
        ON p.site = c.site AND p.asset = c.asset AND p.position = j.evidence_position
    LEFT JOIN fitted AS f ON f.site = c.site AND f.asset = c.asset AND f.member = c.member
    LEFT JOIN asset_running AS r ON r.site = c.site AND r.asset = c.asset
    WHERE c.state <> 'closed'
),
classed AS (
    SELECT *,
        CASE
            WHEN distrust IS NOT NULL THEN 'repeat'
            WHEN phase IN ('new', 'acknowledged') THEN CASE
                WHEN at_rest AND level IN ('alert', 'danger') THEN 'inspect-stopped'
                WHEN level = 'danger' THEN 'inspect-running' ELSE 'repeat' END
            WHEN phase IN ('done', 'verified') THEN 'repeat'
            WHEN weighed_watch THEN 'inspect-running'
            ELSE 'plan-repair'
        END AS action_class,
        CASE
            WHEN phase IN ('new', 'acknowledged') THEN verify_by
            WHEN phase IN ('done', 'verified') THEN coalesce(done_at + to_seconds(86400
                * setting('respond_watch_days')
                * CASE WHEN criticality = 'A' THEN setting('respond_share_a') ELSE 1 END), plan_by)
            ELSE plan_by
        END AS respond_by,
        -- What the case has said of it itself; null: as its condition says.
        CASE
            WHEN state = 'verified' AND cleared_at IS NULL THEN 'verified-not-clear'
            WHEN state NOT IN ('new', 'acknowledged') THEN state
            WHEN cleared_at IS NOT NULL THEN 'cleared'
        END AS step_of,
        at_rest AND level IN ('alert', 'danger')
            AND state IN ('confirmed', 'work-requested', 'deferred') AS stands_ill
    FROM (SELECT *, level NOT IN ('alert', 'danger') AND worst_told = 'watch' AS weighed_watch
        FROM joined)
),
stepped AS (
    SELECT
        c.* EXCLUDE (assumed, limit_edition),
        replace(replace(replace(n.next_step,
            '{by}', coalesce(strftime(timezone(c.time_zone, c.respond_by), '%Y-%m-%d'),
                'a day to be agreed')),
            '{until}', coalesce(strftime(timezone(c.time_zone, c.until), '%Y-%m-%d'), 'a day')),
            '{order}', coalesce('order ' || c.order_id, 'no order named'))
            || CASE WHEN c.stands_ill THEN ' ' || r.next_step ELSE '' END AS next_of_case,
        -- Zones, changes and trend within them, go by a limit set; the others by own history.
        c.basis IN ('severity', 'trend', 'change') AS has_limits,
        CASE WHEN has_limits THEN c.limit_edition END AS limit_edition,
        CASE WHEN NOT has_limits THEN 'common practice, no source'
            WHEN c.basis_now = c.basis THEN c.limit_confidence END AS confidence,
        CASE WHEN has_limits AND c.basis_now = c.basis THEN c.limit_verified END AS verified,
        CASE WHEN has_limits THEN c.assumed END AS assumed
    FROM classed AS c
    LEFT JOIN case_next_steps AS n ON n.state = c.step_of
        AND (n.action_class IS NULL OR n.action_class = c.action_class)
    LEFT JOIN case_next_steps AS r ON r.state = 'at-rest'
)
SELECT
    case_id, site, asset, member, asset_name, area, asset_external_id, member_external_id,
    criticality, priority, state, level, level_since, opened_at, cleared_at, basis, owner,
    order_id, until, disposition,
    CASE WHEN basis_now = basis THEN reason ELSE coalesce(opened_reason, reason) END AS evidence,
    CASE WHEN basis_now = basis THEN since END AS condition_since,
    evidence_position AS position, evidence_axis AS axis, value, unit, limit_edition,
    confidence, verified, assumed, distrust, observations,
    trend_reason AS trend, blind_to, action_class, respond_by,
    coalesce(respond_by < CAST(getvariable('as_of') AS TIMESTAMPTZ)
        AND state NOT IN ('deferred', 'done', 'verified') AND cleared_at IS NULL, false)
        AS overdue,
    action_class IN ('inspect-stopped', 'plan-repair') AND service_state = 'in-service'
        AND NOT at_rest AS needs_outage,
    bearing, coupling, area_classification, confirmed_by IS NOT NULL AS confirmed, confirmed_by,
    done_by, coalesce(next_of_case, next_of_condition) AS next_step
FROM stepped;
