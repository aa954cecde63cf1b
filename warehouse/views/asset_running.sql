-- purpose: is the machine at rest now, and how is that known (rules S1, J6)?
-- grain: one row an asset.
-- columns: site, asset, at_rest, rest_basis (stopped by evidence, laid-up by the registry; null
--          while running or not known), rest_since, rest_known_at, rest_stale_after (UTC),
--          evidence, evidence_at (UTC), speed (/min of the reference shaft), service_state.
-- depends: running_latest, setting
CREATE OR REPLACE VIEW asset_running AS
WITH judged AS (
    SELECT
        a.site, a.asset, a.service_state, a.service_from,
        l.evidence, l.ts AS evidence_at, l.speed, l.stopped_since,
        l.ts + to_hours(setting('fresh_online_hours')::BIGINT) AS evidence_stale_after,
        coalesce(NOT l.running AND l.ts + to_hours(setting('fresh_online_hours')::BIGINT)
            > CAST(getvariable('as_of') AS TIMESTAMPTZ), false) AS stopped,
        a.service_state IN ('laid-up', 'removed') AS laid_up
    FROM assets AS a
    LEFT JOIN running_latest AS l ON l.site = a.site AND l.asset = a.asset
)
SELECT
    site, asset,
    stopped OR laid_up AS at_rest,
    CASE WHEN laid_up THEN 'laid-up' WHEN stopped THEN 'stopped' END AS rest_basis,
    CASE WHEN laid_up THEN service_from WHEN stopped THEN stopped_since END AS rest_since,
    CASE WHEN laid_up THEN CAST(getvariable('as_of') AS TIMESTAMPTZ)
        WHEN stopped THEN evidence_at END AS rest_known_at,
    CASE WHEN stopped AND NOT laid_up THEN evidence_stale_after END AS rest_stale_after,
    evidence, evidence_at, speed, service_state
FROM judged;
