-- purpose: high-frequency acceleration and envelope against the series' own baseline (rule J3):
--          early bearing and gear damage barely moves the velocity. Never danger.
-- grain: one row a series of acceleration or envelope with a judged value.
-- columns: series_id, value, baseline (unit of the series, detector `judged_detector`), ratio (1),
--          baseline_first_day, baseline_last_day, baseline_readings, level (watch, alert; unknown =
--          no change worth telling, or nothing to compare with), basis, reason (words), since
--          (site-local day).
-- depends: series, judged_values, baselines, held_changes, bin_references, bin_text, judging_basis, number_text, unit_text, setting
CREATE OR REPLACE VIEW hf_change AS
WITH compared AS (
    SELECT
        s.series_id, s.quantity, s.unit, s.judged_detector, s.band, s.position, s.axis,
        s.method_group, v.value, h.step, h.since, h.bin, h.bin_now, r.reference_speed,
        h.baseline * s.to_rms AS baseline, h.baseline_first_day, h.baseline_last_day,
        h.baseline_readings, v.value / (h.baseline * s.to_rms) AS ratio
    FROM judged_values AS v
    JOIN series AS s ON s.series_id = v.series_id
    JOIN bin_references AS r ON r.site = s.site AND r.asset = s.asset
    LEFT JOIN held_changes AS h ON h.series_id = v.series_id AND h.basis = 'hf-change'
    WHERE s.feature = 'overall' AND s.quantity IN ('acceleration', 'acceleration-envelope')
        AND s.detector IN ('rms', 'derived-peak', 'peak', 'peak-unspecified', 'peak-to-peak')
)
