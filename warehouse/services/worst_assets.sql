-- purpose: the machines to look at first, with the evidence as it was judged
-- grain: one row an asset
SELECT
    bad_actors.rank, bad_actors.weighted_rank, bad_actors.n,
    condition_current.site, condition_current.asset, bad_actors.name, bad_actors.area,
    bad_actors.criticality, condition_current.level, condition_current.zone,
    condition_current.basis, condition_current.reason, condition_current.member,
    condition_current.evidence_position, condition_current.evidence_axis,
    condition_current.quantity, condition_current.detector,
    condition_current.value, condition_current.unit, condition_current.boundary_b_c,
    condition_current.boundary_c_d,
    condition_current.trend_state, condition_current.trend_reason,
    condition_current.trend_per_30_days, condition_current.trend_days,
    condition_current.trend_boundary, condition_current.trend_boundary_days,
    condition_current.since, condition_current.measured_at, condition_current.coverage,
    condition_current.limit_edition, condition_current.next_step, condition_current.caution
FROM bad_actors
JOIN condition_current
    ON condition_current.scope = 'asset'
    AND condition_current.site = bad_actors.site
    AND condition_current.asset = bad_actors.asset
ORDER BY bad_actors.rank
LIMIT $number
