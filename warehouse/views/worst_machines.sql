-- purpose: which machines to look at first: by level, then by how far the value stands above its
--          B/C boundary, then by trend. Weighted by criticality beside the plain rank (rule W6).
--          Reads only columns that the asset rows of `condition_current` have too, so a session
--          may hide asset_conditions with a temporary view over those and skip the judging.
-- grain: one row an asset with a condition.
-- columns: rank, weighted_rank (1 = worst), n (assets ranked), site, asset, name, area,
--          criticality, weight (1), level, last_level, zone, basis, share_of_b_c (1),
--          trend_per_30_days (in `unit`), trend_share_of_b_c (per 30 d, 1), unit, reason,
--          measured_at (UTC), since (site-local day), coverage.
-- depends: asset_conditions, level_rank, setting
CREATE OR REPLACE VIEW worst_machines AS
WITH scored AS (
    SELECT
        c.site, c.asset, a.name, a.area, a.criticality,
        CASE a.criticality WHEN 'A' THEN setting('weight_criticality_a')
            WHEN 'B' THEN setting('weight_criticality_b')
            ELSE setting('weight_criticality_c') END AS weight,
        c.level, c.last_level,
        CASE WHEN c.level <> 'unknown' THEN c.zone END AS zone, c.basis, c.value / c.boundary_b_c AS share_of_b_c,
        c.trend_per_30_days,
        c.trend_per_30_days / c.boundary_b_c AS trend_share_of_b_c,
        c.unit, c.reason, c.measured_at, c.since, c.coverage,
        -- a machine nobody can speak for comes before the healthy ones
        greatest(level_rank(c.level, c.last_level, c.basis), CASE WHEN c.level = 'unknown' THEN 2.5 END)
            AS urgency
    FROM asset_conditions AS c
    JOIN assets AS a ON a.site = c.site AND a.asset = c.asset
)
SELECT
    row_number() OVER plain AS rank,
    row_number() OVER weighted AS weighted_rank,
    count(*) OVER () AS n,
    * EXCLUDE (urgency)
FROM scored
WINDOW
    plain AS (ORDER BY urgency DESC, share_of_b_c DESC NULLS LAST,
        trend_share_of_b_c DESC NULLS LAST, site, asset),
    weighted AS (ORDER BY urgency * weight DESC, share_of_b_c DESC NULLS LAST,
        trend_share_of_b_c DESC NULLS LAST, site, asset);
