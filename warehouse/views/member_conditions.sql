-- purpose: the condition of every machine of a train: its worst point, and how much of it is
--          seen (rules J6, J7).
-- grain: one row a member (measuring stations are no machines).
-- columns: site, asset, member, role, evidence columns as in `condition_current`, coverage,
--          measured_points, judgeable_points (bearing positions), covered.
-- depends: point_conditions, members_limits, level_rank, basis_rank, worst_level
-- materialise: yes
CREATE OR REPLACE VIEW member_conditions AS
WITH seen AS MATERIALIZED (
    SELECT * FROM point_conditions
),
worst AS (
    SELECT *
    FROM seen
    WHERE member IS NOT NULL
    QUALIFY row_number() OVER (
        PARTITION BY site, asset, member
        ORDER BY level_rank(level, last_level, basis) DESC, basis_rank(basis),
            -- Without limits: what rises, then what is highest.
            share_of_b_c DESC NULLS LAST, coalesce(trend_state = 'rising', false) DESC,
            value DESC NULLS LAST, position, axis NULLS FIRST) = 1
),
bearings AS (
    SELECT site, asset, member, count(*) AS judgeable_points
    FROM points WHERE bearing_housing OR part IS NOT NULL GROUP BY ALL
),
judged AS (
    SELECT
        site, asset, member,
        -- A temperature raises, but a machine is seen by its vibration.
        count(DISTINCT position) FILTER (WHERE judgeable AND level <> 'unknown'
            AND coalesce(quantity <> 'temperature', true)) AS measured_points,
        coalesce(bool_or(is_radial AND judgeable AND level <> 'unknown'
            AND coalesce(quantity <> 'temperature', true)), false) AS radial_seen,
        -- One sentence where all points are blind to the same, else each with its own.
        CASE WHEN count(DISTINCT coalesce(blind_to, '')) FILTER (measured_at IS NOT NULL) = 1 THEN min(blind_to)
            ELSE string_agg(DISTINCT position || ': ' || blind_to, '; '
                ORDER BY position || ': ' || blind_to) END AS blind_to,
        worst_level(level, last_level) AS was,
        count(*) FILTER (distrust IS NOT NULL) AS doubted,
        min(position || coalesce(' ' || axis, '') || ': ' || distrust) AS distrust
    FROM seen
    GROUP BY ALL
),
counted AS (
    SELECT
        m.site, m.asset, m.member, m.role, m.equipment_class,
        coalesce(b.judgeable_points, 0)::INTEGER AS judgeable_points,
        coalesce(j.measured_points, 0)::INTEGER AS measured_points,
        coalesce(j.radial_seen, false) AS radial_seen,
        j.blind_to, j.was,
        CASE WHEN j.doubted > 1 THEN j.doubted || ' points are doubted, first ' ELSE '' END
            || j.distrust AS distrust
    FROM members AS m
    JOIN assets AS a ON a.site = m.site AND a.asset = m.asset AND a.service_state <> 'removed'
    LEFT JOIN bearings AS b ON b.site = m.site AND b.asset = m.asset AND b.member = m.member
    LEFT JOIN judged AS j ON j.site = m.site AND j.asset = m.asset AND j.member = m.member
    WHERE m.equipment_class <> 'environment'
)
SELECT
    c.site, c.asset, c.member, c.role,
    coalesce(w.level, 'unknown') AS level,
    w.zone,
    coalesce(w.basis, CASE WHEN l.limit_set IS NULL THEN 'unjudged' ELSE 'no-points' END) AS basis,
    coalesce(
        -- Who is told that a machine is well is told as well what that does not rest on.
        w.reason || CASE WHEN w.level = 'normal' AND w.distrust IS NULL
            THEN ' Not counted: ' || c.distrust || '.' END,
        w.reason,
        CASE WHEN l.limit_set IS NULL THEN 'Not judged: ' || l.why
        ELSE 'No measuring point of ' || c.member || ' is mounted or on a route' END || '.')
        AS reason,
    w.evidence_member, w.evidence_position, w.evidence_axis,
    coalesce(w.limit_set, l.limit_set) AS limit_set,
    coalesce(w.limit_group, l.limit_group) AS limit_group,
    coalesce(w.limit_edition, l.limit_edition) AS limit_edition,
    w.limit_confidence, w.limit_verified, w.quantity, w.detector, w.band, w.value, w.unit,
    w.boundary_a_b, w.boundary_b_c, w.boundary_c_d,
    w.baseline, w.boundary_watch, w.boundary_alert, w.support,
    CASE WHEN w.limit_set IS NULL THEN l.assumed ELSE w.assumed END AS assumed,
    w.running_state, w.measured_at, w.since, w.stale_after,
    CASE WHEN w.level = 'unknown' THEN c.was ELSE w.last_level END AS last_level,
    w.held_since, COLUMNS('^trend_'), w.operating_bin,
    CASE
        WHEN c.radial_seen OR (c.measured_points > 0 AND c.measured_points = c.judgeable_points)
            THEN 'normal'
        WHEN c.measured_points > 0 THEN 'partial'
        ELSE 'none'
    END AS coverage,
    c.measured_points, c.judgeable_points, c.blind_to,
    coalesce(w.distrust, c.distrust) AS distrust, w.share_of_b_c
FROM counted AS c
LEFT JOIN worst AS w ON w.site = c.site AND w.asset = c.asset AND w.member = c.member
LEFT JOIN members_limits AS l
    ON l.site = c.site AND l.asset = c.asset AND l.member = c.member AND l.position IS NULL
    AND l.direction = 'radial';
