-- purpose: the machines to look at first, with the evidence as it was judged
-- grain: one row an asset
SELECT
    worst_machines.rank, worst_machines.weighted_rank, worst_machines.n,
    condition_current.site, condition_current.asset, worst_machines.name, worst_machines.area,
    worst_machines.criticality, condition_current.level, condition_current.zone,
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
FROM worst_machines
JOIN condition_current
    ON condition_current.scope = 'asset'
    AND condition_current.site = worst_machines.site
    AND condition_current.asset = worst_machines.asset
ORDER BY worst_machines.rank
LIMIT $number
