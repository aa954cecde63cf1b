-- purpose: what is told, against what was told last: the rows `issued` gains
-- grain: stands at each statement
--
-- `condition_log` tells that a level, zone or basis changed, for whoever follows changes. `issued`
-- holds what was said, whole: every change has its row there, and so has a changed limit, place of
-- the evidence, trend, coverage or advice. Values, reasons and times move with every reading;
-- alone they tell nothing new.

-- name: told
-- one row a place: what was told of it last, by published conditions and rows of `issued` (unseen)
-- that no published state holds yet
WITH every AS (
    SELECT 0 AS seq, 'told' AS event, * FROM published_conditions
    UNION ALL BY NAME
    SELECT seq, event, @{columns} FROM unseen
)
SELECT @{columns}
FROM every
QUALIFY
    row_number() OVER (
        PARTITION BY scope, site, asset, member, position, axis ORDER BY seq DESC
    ) = 1
    AND event = 'told'

-- name: issued
-- one row a place of which something told differs, and one of which nothing is told any more
WITH compared AS (
    SELECT
        t.scope IS NULL
        OR (
            n.level, n.zone, n.basis, n.last_level, n.coverage, n.next_step,
            n.distrust IS NULL, n.observations
        ) IS DISTINCT FROM (
            t.level, t.zone, t.basis, t.last_level, t.coverage, t.next_step,
            t.distrust IS NULL, t.observations
        ) AS otherwise,
        (
            n.evidence_position, n.evidence_axis, n.quantity, n.detector, n.band
        ) IS DISTINCT FROM (
            t.evidence_position, t.evidence_axis, t.quantity, t.detector, t.band
        ) AS other_evidence,
        (
            n.limit_set, n.limit_group, n.limit_edition, n.limit_confidence,
            n.boundary_a_b, n.boundary_b_c, n.boundary_c_d,
            n.support, n.assumed, n.trend_state, n.trend_boundary
        ) IS DISTINCT FROM (
            t.limit_set, t.limit_group, t.limit_edition, t.limit_confidence,
            t.boundary_a_b, t.boundary_b_c, t.boundary_c_d,
            t.support, t.assumed, t.trend_state, t.trend_boundary
        ) AS of_the_evidence,
        n.*
    FROM conditions AS n
    LEFT JOIN told AS t
        ON t.scope = n.scope AND t.site = n.site AND t.asset = n.asset
        AND t.member IS NOT DISTINCT FROM n.member
        AND t.position IS NOT DISTINCT FROM n.position
        AND t.axis IS NOT DISTINCT FROM n.axis
),
newest_change AS (
    SELECT *
    FROM changes
    QUALIFY row_number() OVER (
        PARTITION BY scope, site, asset, member, position, axis ORDER BY seq DESC
    ) = 1
),
-- Where all is well it does not matter at which point the worst value is; the limits and the
-- trend told are compared where the evidence is the same.
rows_told AS (
    SELECT 'told' AS event, c.seq AS change, n.* EXCLUDE (otherwise, other_evidence, of_the_evidence)
    FROM compared AS n
    LEFT JOIN newest_change AS c
        ON c.scope = n.scope AND c.site = n.site AND c.asset = n.asset
        AND c.member IS NOT DISTINCT FROM n.member
        AND c.position IS NOT DISTINCT FROM n.position
        AND c.axis IS NOT DISTINCT FROM n.axis
    WHERE n.otherwise
        OR CASE WHEN n.other_evidence THEN n.level <> 'normal' ELSE n.of_the_evidence END
    UNION ALL BY NAME
    SELECT 'withdrawn' AS event, t.*
    FROM told AS t
    WHERE NOT EXISTS (
        FROM conditions AS n
        WHERE t.scope = n.scope AND t.site = n.site AND t.asset = n.asset
            AND t.member IS NOT DISTINCT FROM n.member
            AND t.position IS NOT DISTINCT FROM n.position
            AND t.axis IS NOT DISTINCT FROM n.axis
    )
)
SELECT
    $next_seq - 1 + row_number() OVER (
        ORDER BY
            event, site, asset, scope,
            member NULLS FIRST, position NULLS FIRST, axis NULLS FIRST
    ) AS seq,
    $snapshot AS snapshot, event, change, @{columns}, $data_versions AS data_versions
FROM rows_told
ORDER BY seq
