-- purpose: conditions, their memory of the judgement before, and what changed since it
-- grain: stands at each statement; `judged_now`, `judged_before` are rows of `condition_current`

-- name: judged
-- one row a scope and place: what the views give, without memory of what was before
WITH placed AS (
    SELECT
        'point' AS scope,
        * REPLACE (
            -- Nobody shall read health from a zone that no longer holds.
            CASE WHEN level <> 'unknown' THEN zone END AS zone
        ),
        CASE WHEN judgeable AND level <> 'unknown' THEN 'normal' ELSE 'none' END AS coverage,
        (judgeable AND level <> 'unknown')::INTEGER AS measured_points,
        judgeable::INTEGER AS judgeable_points
    FROM temp.point_conditions
    UNION ALL BY NAME
    SELECT 'member' AS scope, * REPLACE (CASE WHEN level <> 'unknown' THEN zone END AS zone)
    FROM temp.member_conditions
    UNION ALL BY NAME
    SELECT 'asset' AS scope, * REPLACE (CASE WHEN level <> 'unknown' THEN zone END AS zone)
    FROM temp.asset_conditions
),
told AS (
    SELECT
        p.*, o.observations, n.next_step,
        $caution AS caution,
        $as_of::TIMESTAMPTZ AS as_of
    FROM placed AS p
    LEFT JOIN assets AS a ON a.site = p.site AND a.asset = p.asset
    LEFT JOIN next_steps AS n
        ON n.basis = p.basis AND n.level = p.level
        AND n.critical = (coalesce(a.criticality, '') = 'A')
        AND n.doubted = (p.level = 'normal' AND p.distrust IS NOT NULL)
    LEFT JOIN seen_on_routes AS o
        ON o.scope = p.scope AND o.site = p.site AND o.asset = p.asset
        AND o.member IS NOT DISTINCT FROM p.member
        AND o.position IS NOT DISTINCT FROM p.position
)
SELECT @{columns}
FROM told
ORDER BY
    site, asset, scope, member NULLS FIRST, position NULLS FIRST, axis NULLS FIRST

-- name: remembered
-- the same, with what only the judgement before knows: the level and day before it went unknown
SELECT
    n.* REPLACE (
        CASE WHEN n.level = 'unknown'
            THEN coalesce(n.last_level, nullif(b.level, 'unknown'), b.last_level)
            ELSE n.last_level END AS last_level,
        CASE WHEN n.level = 'unknown'
            THEN coalesce(n.since, CASE WHEN b.level = 'unknown' THEN b.since END, n.as_of::DATE)
            ELSE n.since END AS since
    )
FROM judged_now AS n
LEFT JOIN judged_before AS b
    ON b.scope = n.scope AND b.site = n.site AND b.asset = n.asset
    AND b.member IS NOT DISTINCT FROM n.member
    AND b.position IS NOT DISTINCT FROM n.position
    AND b.axis IS NOT DISTINCT FROM n.axis
ORDER BY
    n.site, n.asset, n.scope, n.member NULLS FIRST, n.position NULLS FIRST, n.axis NULLS FIRST

-- name: changes
-- one row a place that is new, or of which level, zone or basis is another one
SELECT
    $next_seq - 1 + row_number() OVER (
        ORDER BY
            n.site, n.asset, n.scope,
            n.member NULLS FIRST, n.position NULLS FIRST, n.axis NULLS FIRST
    ) AS seq,
    n.scope, n.site, n.asset, n.member, n.position, n.axis,
    b.level AS level_from, n.level AS level_to,
    b.zone AS zone_from, n.zone AS zone_to,
    n.basis, n.reason, n.measured_at,
    n.as_of AS judged_at
FROM judged_now AS n
LEFT JOIN judged_before AS b
    ON b.scope = n.scope AND b.site = n.site AND b.asset = n.asset
    AND b.member IS NOT DISTINCT FROM n.member
    AND b.position IS NOT DISTINCT FROM n.position
    AND b.axis IS NOT DISTINCT FROM n.axis
WHERE b.scope IS NULL
    OR n.level <> b.level OR n.zone IS DISTINCT FROM b.zone OR n.basis <> b.basis
ORDER BY seq
