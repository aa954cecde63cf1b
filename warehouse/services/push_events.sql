-- purpose: what is told besides what the logs hold
-- grain: each statement stands under its name

-- name: summaries
-- What a planner needs of open cases; how a case stands is told by the log's own row.
SELECT case_id, asset_name, area, criticality, priority, evidence, condition_since, position, axis, value, unit,
    limit_edition, confidence, verified, assumed, distrust, observations, trend, blind_to,
    action_class, respond_by, overdue, needs_outage, bearing, coupling, area_classification,
    confirmed, next_step
FROM case_summaries
WHERE list_contains($cases, case_id)
