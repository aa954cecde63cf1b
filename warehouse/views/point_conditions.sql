-- purpose: the condition of every measuring position and direction: its governing evidence.
-- grain: one row a position and direction that is mounted, on a route, or has readings.
-- columns: place (site, asset, member, position, axis), is_radial, judgeable (a bearing housing,
--          or a named part of a reciprocating machine),
--          and the evidence columns of point_evidence named as in `condition_current`.
-- depends: point_evidence, answered_evidence, points_limits, is_high_frequency, level_rank, basis_rank
-- materialise: yes
CREATE OR REPLACE VIEW point_conditions AS
WITH evidence AS MATERIALIZED (
    SELECT * FROM point_evidence
),
places AS (
    SELECT site, asset, position, axis
    FROM mountings
    WHERE axis IS NOT NULL AND mounted_from <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
        AND (mounted_to IS NULL OR mounted_to > CAST(getvariable('as_of') AS TIMESTAMPTZ))
    UNION
    SELECT site, asset, position, axis FROM routes WHERE axis IS NOT NULL
    UNION
    SELECT site, asset, position, axis FROM evidence
),
machine_places AS (
    SELECT l.*, p.member, coalesce(p.bearing_housing OR p.part IS NOT NULL, false) AS judgeable
    FROM places AS l
    JOIN assets AS a ON a.site = l.site AND a.asset = l.asset AND a.service_state <> 'removed'
    LEFT JOIN points AS p
        ON p.site = l.site AND p.asset = l.asset AND p.position = l.position
    LEFT JOIN members AS m ON m.site = p.site AND m.asset = p.asset AND m.member = p.member
    WHERE coalesce(m.equipment_class, '') <> 'environment'
),
governing AS (
    SELECT *
    FROM evidence
    WHERE series_id NOT IN (SELECT series_id FROM answered_evidence)
    QUALIFY row_number() OVER (
        PARTITION BY site, asset, position, axis
        ORDER BY level_rank(level, last_level, basis) DESC, basis_rank(basis),
            share_of_b_c DESC NULLS LAST, measured_at DESC NULLS LAST, series_id) = 1
),
seen AS (
    SELECT
        site, asset, position,
        bool_or(quantity IN ('velocity', 'displacement')) AS low_frequency,
        bool_or(quantity = 'velocity') AS velocity,
        bool_or(quantity LIKE 'acceleration%') AS acceleration,
        bool_or(is_high_frequency(quantity, band)) AS high_frequency,
        coalesce(bool_or(compared) FILTER (is_high_frequency(quantity, band)), false)
            AS high_frequency_compared
    FROM evidence
    WHERE seen
    GROUP BY ALL
),
doubted AS (
    SELECT site, asset, position, axis, string_agg(DISTINCT distrust, '; ' ORDER BY distrust)
        AS distrust
    FROM evidence
    GROUP BY ALL
)
SELECT
    p.site, p.asset, p.member, p.position, p.axis, p.judgeable,
    coalesce(p.axis, 'radial') <> 'axial' AS is_radial,
    coalesce(g.level, 'unknown') AS level,
    g.zone,
    coalesce(g.basis, CASE WHEN m.member IS NOT NULL AND m.limit_set IS NULL THEN 'unjudged'
        ELSE 'never-measured' END) AS basis,
    coalesce(g.reason, 'No vibration reading has come from ' || p.position
        || coalesce(' ' || p.axis, '') || '.') AS reason,
    p.member AS evidence_member, p.position AS evidence_position, p.axis AS evidence_axis,
    coalesce(g.limit_set, m.limit_set) AS limit_set,
    coalesce(g.limit_group, m.limit_group) AS limit_group,
    coalesce(g.limit_edition, m.limit_edition) AS limit_edition,
    g.limit_confidence, g.limit_verified, g.quantity, g.detector, g.band, g.value, g.unit,
    g.a_b AS boundary_a_b, g.b_c AS boundary_b_c, g.c_d AS boundary_c_d,
    g.baseline, g.boundary_watch, g.boundary_alert,
    coalesce(g.support, m.support) AS support,
    CASE WHEN g.limit_set IS NULL THEN m.assumed ELSE g.assumed END AS assumed,
    g.state AS running_state, g.measured_at, g.since, g.stale_after, g.last_level,
    g.held_since,
    COLUMNS('^trend_'), g.operating_bin,
    CASE
        WHEN e.high_frequency AND NOT e.low_frequency
            THEN 'acceleration only: no zone can be given'
        WHEN e.acceleration AND NOT e.low_frequency THEN 'acceleration of low frequency only: no '
            || 'zone can be given, blind to early bearing wear'
        WHEN e.high_frequency AND NOT e.high_frequency_compared
            THEN 'high frequency has no baseline to be compared with: blind to gear teeth and '
            || 'early bearing wear'
        WHEN e.low_frequency AND NOT e.high_frequency
            THEN CASE WHEN e.velocity THEN 'velocity' ELSE 'displacement' END
            || ' only: blind to gear teeth and early bearing wear'
    END AS blind_to,
    coalesce(g.distrust, d.distrust) AS distrust, g.share_of_b_c
FROM machine_places AS p
LEFT JOIN governing AS g
    ON g.site = p.site AND g.asset = p.asset AND g.position = p.position
    AND g.axis IS NOT DISTINCT FROM p.axis
LEFT JOIN doubted AS d
    ON d.site = p.site AND d.asset = p.asset AND d.position = p.position
    AND d.axis IS NOT DISTINCT FROM p.axis
LEFT JOIN points_limits AS m
    ON m.site = p.site AND m.asset = p.asset AND m.position = p.position
    AND m.direction = CASE
        WHEN p.axis = 'axial' THEN 'axial'
        WHEN p.axis IN ('horizontal', 'radial-in-line') THEN 'horizontal'
        WHEN p.axis IN ('vertical', 'radial-cross') THEN 'vertical'
        ELSE 'radial' END
LEFT JOIN seen AS e ON e.site = p.site AND e.asset = p.asset AND e.position = p.position;
