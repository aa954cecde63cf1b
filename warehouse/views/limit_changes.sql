-- purpose: changes of a machine's condition that came with other limits: what was in force at its
--          points before and behind, as it was told (`issued`). Readings may have come with them:
--          it says that limits changed, not that nothing else did.
-- grain: one row a change of a member in `condition_log` with which the limits of at least one of
--        its points changed: set, group, edition, support or boundaries.
-- columns: change (`condition_log.seq`), site, asset, member, told_at (UTC: the moment it was judged
--          for), points (positions and directions whose limits changed, count), words (before ->
--          behind, and who assigned a set by hand, if that is still registered).
-- depends: number_text
CREATE OR REPLACE VIEW limit_changes AS
WITH shown AS (
    SELECT
        seq, snapshot, site, asset, member, position, axis, as_of, limit_set, limit_group,
        (limit_set, limit_group, limit_edition, support, boundary_a_b, boundary_b_c, boundary_c_d)
            AS limits,
        (quantity, detector, unit) AS measure,
        CASE WHEN limit_set IS NULL THEN 'none' ELSE concat_ws(', ',
            concat_ws(' ', coalesce(limit_edition, limit_set), limit_group), support || ' support',
            'boundaries ' || nullif(concat_ws(' / ',
                CASE WHEN boundary_a_b IS NOT NULL THEN number_text(boundary_a_b) END,
                CASE WHEN boundary_b_c IS NOT NULL THEN number_text(boundary_b_c) END,
                CASE WHEN boundary_c_d IS NOT NULL THEN number_text(boundary_c_d) END), '')
                || ' ' || unit) END AS words
    FROM issued
    -- A silent or doubted point, or one judged by its own past, may have no boundaries told: that
    -- is no change of them.
    WHERE scope = 'point' AND (basis = 'unjudged'
        OR coalesce(boundary_a_b, boundary_b_c, boundary_c_d) IS NOT NULL)
    -- Of two rows of a place with the same number nobody saw the earlier.
    QUALIFY row_number() OVER (
        PARTITION BY site, asset, position, axis, snapshot ORDER BY seq DESC) = 1
),
compared AS (
    SELECT
        *,
        lag(limits) OVER place AS limits_before, lag(measure) OVER place AS measure_before,
        lag(words) OVER place AS words_before,
        lag(limit_set) OVER place AS set_before, lag(limit_group) OVER place AS group_before
    FROM shown
    WINDOW place AS (PARTITION BY site, asset, member, position, axis ORDER BY seq)
),
changed AS (
    SELECT
        c.*,
        CASE WHEN (c.limit_set, c.limit_group) IS DISTINCT FROM (c.set_before, c.group_before)
            THEN ', assigned by ' || a.assigned_by || ' (' || a.reason || ')' END AS assigned
    FROM compared AS c
    LEFT JOIN limit_assignments AS a
        ON a.site = c.site AND a.asset = c.asset AND a.member = c.member
        AND (a.position IS NULL OR a.position = c.position)
        AND split_part(a.limit_set, '/', 1) = c.limit_set
        AND a.assigned_from <= c.as_of AND (a.assigned_to IS NULL OR a.assigned_to > c.as_of)
    WHERE c.words_before IS NOT NULL AND c.limits IS DISTINCT FROM c.limits_before
        AND (c.measure IS NOT DISTINCT FROM c.measure_before
            OR c.limit_set IS NULL OR c.set_before IS NULL)
    QUALIFY row_number() OVER (
        PARTITION BY c.seq ORDER BY a.position NULLS LAST, a.assigned_from DESC) = 1
)
SELECT
    m.change, m.site, m.asset, m.member, m.as_of AS told_at,
    count(DISTINCT (p.position, p.axis)) AS points,
    string_agg(DISTINCT p.words_before || ' -> ' || p.words || coalesce(p.assigned, ''), '; '
        ORDER BY p.words_before || ' -> ' || p.words || coalesce(p.assigned, '')) AS words
FROM issued AS m
JOIN changed AS p
    ON p.site = m.site AND p.asset = m.asset AND p.member = m.member AND p.snapshot = m.snapshot
WHERE m.scope = 'member' AND m.event = 'told' AND m.change IS NOT NULL
GROUP BY ALL;
