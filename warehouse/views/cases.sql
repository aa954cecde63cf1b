-- purpose: how every case stands (rule W1): the last row of its life, with its priority.
-- grain: one row a case.
-- columns: those of case_events that say how it stands; criticality, priority (1 is first; by the
--          matrix of priorities, of its level or of the last one it had), verify_by, plan_by (UTC:
--          until when it wants a second look, and until when a plan; rule W2).
-- depends: setting
CREATE OR REPLACE VIEW cases AS
WITH newest AS (
    SELECT * FROM case_events
    QUALIFY row_number() OVER (PARTITION BY case_id ORDER BY seq DESC) = 1
),
ranked AS (
    SELECT
        n.*, a.criticality,
        CASE WHEN n.level IN ('watch', 'alert', 'danger') THEN n.level ELSE n.worst_told END
            AS weighed,
        CASE WHEN a.criticality = 'A' THEN setting('respond_share_a') ELSE 1 END AS share
    FROM newest AS n
    LEFT JOIN assets AS a ON a.site = n.site AND a.asset = n.asset
)
SELECT
    r.* EXCLUDE (weighed, share, kind, happened_at, notice, person, comment, reason, cause, cause_id),
    p.priority,
    r.level_since + to_seconds(3600 * r.share * CASE r.weighed
        WHEN 'danger' THEN setting('respond_danger_hours')
        WHEN 'alert' THEN 24 * setting('respond_alert_verify_days')
        ELSE 24 * setting('respond_watch_days') END) AS verify_by,
    r.level_since + to_seconds(3600 * 24 * r.share * CASE r.weighed
        WHEN 'watch' THEN setting('respond_watch_days')
        ELSE setting('respond_alert_plan_days') END) AS plan_by
FROM ranked AS r
LEFT JOIN case_priorities AS p
    ON p.level = r.weighed AND p.criticality IS NOT DISTINCT FROM r.criticality;
