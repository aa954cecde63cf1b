-- purpose: high-frequency acceleration and envelope against the series' own baseline (rule J3):
--          early bearing and gear damage barely moves the velocity. Never danger.
-- grain: one row a series of acceleration or envelope with a judged value.
-- columns: series_id, value, baseline (unit of the series, detector `judged_detector`), ratio (1),
--          baseline_first_day, baseline_last_day, baseline_readings, level (watch, alert; unknown =
--          no change worth telling, or nothing to compare with), basis, reason (words), since
--          (site-local day).
-- depends: series, judged_values, held_changes, baseline_words, number_text, unit_text, setting
CREATE OR REPLACE VIEW hf_change AS
WITH compared AS (
    SELECT
        s.series_id, s.unit, v.value, h.step, h.since, coalesce(h.bin = h.bin_now, false) AS same_bin,
        h.baseline * s.to_rms AS baseline, h.baseline_first_day, h.baseline_last_day,
        h.baseline_readings, v.value / (h.baseline * s.to_rms) AS ratio, w.missing,
        CASE h.step WHEN 2 THEN setting('hf_watch_ratio') WHEN 3 THEN setting('hf_alert_ratio') END
            AS passed,
        upper(s.quantity[1]) || s.quantity[2:] || ' ' || number_text(v.value) || ' '
            || unit_text(s.unit) || ' ' || s.judged_detector || coalesce(' in ' || s.band, '')
            || ' at ' || s.position || coalesce(' ' || s.axis, '') AS measured
    FROM judged_values AS v
    JOIN series AS s ON s.series_id = v.series_id
    LEFT JOIN held_changes AS h ON h.series_id = v.series_id AND h.basis = 'hf-change'
    LEFT JOIN baseline_words AS w ON w.series_id = v.series_id
    WHERE s.feature = 'overall' AND s.quantity IN ('acceleration', 'acceleration-envelope')
        AND s.detector IN ('rms', 'derived-peak', 'peak', 'peak-unspecified', 'peak-to-peak')
)
SELECT
    series_id, value, baseline, ratio, baseline_first_day, baseline_last_day, baseline_readings,
    coalesce(told, 'unknown') AS level,
    CASE WHEN step IS NULL THEN 'no-baseline' WHEN step = 1 THEN 'change-only'
        ELSE 'hf-change' END AS basis,
    measured || CASE
        WHEN step IS NULL
            THEN ' ' || coalesce(missing, 'has a baseline of nothing: no ratio can be told')
        WHEN step = 1 AND NOT same_bin THEN ' is not compared: it '
            || coalesce(missing, 'runs otherwise than when its baseline was taken')
        ELSE ' is ' || number_text(ratio) || ' times its baseline of ' || number_text(baseline)
            || ' (' || baseline_first_day || ' to ' || baseline_last_day || ')'
            || CASE WHEN ratio <= passed THEN ', held as above ' || number_text(passed)
                || ' times until it settles below ' || number_text(setting('exit_share') * passed)
                ELSE '' END END
        || CASE WHEN step > 1
            THEN ': a sign of bearing, gear or lubrication trouble that velocity may not show; '
                || format('{:g}', setting('hf_watch_ratio')) || ' and '
                || format('{:g}', setting('hf_alert_ratio'))
                || ' times are common practice, no standard'
            ELSE '' END
        || CASE WHEN step > 1 AND NOT same_bin
            THEN ', held since it ran at another speed or load' ELSE '' END AS reason,
    since
FROM compared
LEFT JOIN (
    SELECT step AS told_step, level AS told FROM judging_levels
    WHERE kind = 'change' AND basis = 'hf-change'
) ON told_step = step;
