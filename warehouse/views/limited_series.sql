-- purpose: every velocity and displacement series with the limits in force for it, each axis alone
--          (rules J1, M2), whatever it reads.
-- grain: one row a series that a limit set could judge, or that belongs to an unjudged machine.
-- columns: those of series; those of points_limits for its direction; a_b, b_c, c_d (lower,
--          middle, upper boundary: unit of the series, detector `judged_detector`), confidence,
--          lower_confidence, disputed, limit_note, limit_low_hz, limit_high_hz (Hz), judged_by.
-- depends: series, points_limits
-- materialise: yes
CREATE OR REPLACE VIEW limited_series AS
SELECT
    s.*, m.limit_set, m.limit_group, m.limit_edition, m.limit_kind, m.support, m.assumed,
    m.why, m.lowest_speed, m.band_must_reach, m.low_speed, m.parts, m.worse_quantity_governs,
    w.confidence, w.lower_confidence, w.disputed, w.note AS limit_note,
    w.lower AS a_b, w.middle AS b_c, w.upper AS c_d,
    w.band_low_hz AS limit_low_hz, w.band_high_hz AS limit_high_hz, w.quantity AS judged_by
FROM series AS s
LEFT JOIN points_limits AS m
    ON m.site = s.site AND m.asset = s.asset AND m.position = s.position
    AND m.direction = s.direction
LEFT JOIN limit_rows AS w
    ON w.limit_set = m.limit_set AND w."group" = m.limit_group AND w.support = m.support
    AND w.quantity = s.quantity AND w.detector = s.judged_detector
    AND (w.part IS NULL OR w.part = s.part)
    AND (w.speed_over IS NULL OR m.lowest_speed IS NULL OR m.lowest_speed > w.speed_over)
    AND (w.speed_up_to IS NULL OR m.lowest_speed <= w.speed_up_to)
WHERE s.quantity IN ('velocity', 'displacement') AND s.feature = 'overall'
    AND s.detector IN ('rms', 'derived-peak', 'peak', 'peak-unspecified', 'peak-to-peak',
        'derived-peak-to-peak');
