-- purpose: how the judged value of a series stands against the limit sets that fit its machine and
--          are not in force: shown beside the judgement, never part of it (rule J1).
-- grain: one row a series at a bearing housing and limit set that does not judge it.
-- columns: site, asset, member, position, axis, quantity, detector, value (in `unit`), unit,
--          measured_at (UTC), limit_set, limit_group, limit_edition, lower, middle, upper (in
--          `unit`), grade (in the set's own words; null where the band cannot show it),
--          confidence (of the boundary it is told by), rule_confidence (of the rule that leads to
--          the group), verified (both are), in_force (the set that judges; null = none).
-- depends: series, judged_values, points_limits, fitting_limits, limit_step
CREATE OR REPLACE VIEW limits_for_information AS
WITH compared AS (
    SELECT
        s.site, s.asset, s.member, s.position, s.axis, s.quantity, s.judged_detector AS detector,
        v.value, s.unit, v.measured_at, f.limit_set, f.limit_group,
        t.standard || ':' || t.edition AS limit_edition, t.kind,
        w.lower, w.middle, w.upper, w.confidence, w.lower_confidence, f.rule_confidence,
        m.limit_set AS in_force,
        limit_step(v.value, w.lower, w.middle, w.upper) AS step,
        coalesce(s.band_low_hz > coalesce(m.band_must_reach, w.band_low_hz), true)
            AND coalesce(m.band_must_reach, w.band_low_hz) IS NOT NULL AS low_missing,
        coalesce(s.band_high_hz < w.band_high_hz, true) AND w.band_high_hz IS NOT NULL
            AS high_missing
    FROM series AS s
    JOIN judged_values AS v ON v.series_id = s.series_id
    JOIN points_limits AS m
        ON m.site = s.site AND m.asset = s.asset AND m.position = s.position
        AND m.direction = s.direction
    JOIN fitting_limits AS f
        ON f.site = s.site AND f.asset = s.asset AND f.member = s.member
        AND f.measures = 'vibration' AND f.limit_set IS DISTINCT FROM m.limit_set
    JOIN limit_sets AS t ON t.limit_set = f.limit_set
    JOIN limit_rows AS w
        ON w.limit_set = f.limit_set AND w."group" = f.limit_group AND w.quantity = s.quantity
        AND w.support = coalesce(m.known_support, t.assumed_support)
        AND w.detector = s.judged_detector AND (w.part IS NULL OR w.part = s.part)
        AND (w.speed_over IS NULL OR m.lowest_speed IS NULL OR m.lowest_speed > w.speed_over)
        AND (w.speed_up_to IS NULL OR m.lowest_speed <= w.speed_up_to)
    WHERE s.feature = 'overall' AND NOT s.proof_only
        AND (w.part IS NOT NULL OR (s.bearing_housing AND (s.axis <> 'axial' OR s.thrust_end)))
)
SELECT
    c.* EXCLUDE (kind, step, low_missing, high_missing, confidence, lower_confidence),
    CASE WHEN c.step = 1 THEN c.lower_confidence ELSE c.confidence END AS confidence,
    CASE WHEN c.step = 1 THEN c.lower_confidence ELSE c.confidence END IN ('V1', 'own')
        AND c.rule_confidence IN ('V1', 'own') AS verified,
    CASE WHEN c.step > 2 OR NOT (c.low_missing OR c.high_missing) THEN l.grade END AS grade
FROM compared AS c
LEFT JOIN judging_levels AS l ON l.basis = 'severity' AND l.kind = c.kind AND l.step = c.step;
