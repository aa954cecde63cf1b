-- purpose: what technicians saw, heard or smelt within the last `observation_days` (rule W4), of
--          points, machines and trains: it stands beside their condition and changes no level.
-- grain: one row a scope and place with an observation.
-- columns: scope (point, member, asset), site, asset, member, position (null above the point),
--          observed_at (UTC, the newest), observations (words, newest first).
-- depends: stop_results_current, setting
CREATE OR REPLACE VIEW seen_on_routes AS
WITH seen AS (
    SELECT
        v.site, v.asset, p.member, v.position, v.visited_at,
        v.position || ': ' || replace(v.observations, ' ', ', ')
            || coalesce(' (' || v.note || ')', '') || ', '
            || strftime(timezone(s.time_zone, v.visited_at), '%Y-%m-%d') AS words
    FROM stop_results_current AS v
    JOIN sites AS s ON s.site = v.site
    LEFT JOIN points AS p
        ON p.site = v.site AND p.asset = v.asset AND p.position = v.position
    WHERE v.observations IS NOT NULL
        AND v.visited_at > CAST(getvariable('as_of') AS TIMESTAMPTZ)
            - to_seconds(86400 * setting('observation_days'))
),
scoped AS (
    SELECT 'point' AS scope, * FROM seen
    UNION ALL
    SELECT 'member', * REPLACE (NULL AS position) FROM seen WHERE member IS NOT NULL
    UNION ALL
    SELECT 'asset', * REPLACE (NULL AS member, NULL AS position) FROM seen
)
SELECT
    scope, site, asset, member, position, max(visited_at) AS observed_at,
    string_agg(words, '; ' ORDER BY visited_at DESC, words) AS observations
FROM scoped
GROUP BY scope, site, asset, member, position;
