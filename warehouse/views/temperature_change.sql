-- purpose: temperature of bearing housings against their own baseline, and against a backstop (rule
--          J13): housing skin is not bearing metal. Common practice; never danger.
-- grain: one row a temperature series of a bearing housing with a judged value.
-- columns: series_id, value, baseline (unit of the series), rise (K), level (watch, alert; unknown =
--          no change worth telling, or nothing to compare with), basis, reason (words), since
--          (site-local day).
-- depends: series, judged_values, held_changes, baseline_words, number_text, unit_text
CREATE OR REPLACE VIEW temperature_change AS
WITH compared AS (
    SELECT
        s.series_id, v.value, r.baseline, v.value - r.baseline AS rise,
        r.baseline_first_day, r.baseline_last_day, r.step AS rise_step, a.step AS backstop_step,
        CASE WHEN coalesce(a.step, 0) > coalesce(r.step, 0) THEN a.step ELSE r.step END AS step,
        CASE WHEN coalesce(a.step, 0) > coalesce(r.step, 0) THEN a.since ELSE r.since END AS since,
        CASE a.step WHEN 2 THEN a.watch_value WHEN 3 THEN a.alert_value END AS backstop,
        w.missing,
        'Temperature ' || number_text(v.value) || ' ' || unit_text(s.unit) || ' at ' || s.position
            AS measured
    FROM judged_values AS v
    JOIN series AS s ON s.series_id = v.series_id
    LEFT JOIN held_changes AS r ON r.series_id = v.series_id AND r.basis = 'temperature-rise'
    LEFT JOIN held_changes AS a ON a.series_id = v.series_id AND a.basis = 'temperature'
    LEFT JOIN baseline_words AS w ON w.series_id = v.series_id
    WHERE s.quantity = 'temperature' AND s.feature = 'overall' AND s.bearing_housing
)
SELECT
    series_id, value, baseline, rise,
    coalesce(told, 'unknown') AS level,
    CASE WHEN step > 1 THEN 'temperature' WHEN rise_step IS NULL THEN 'no-baseline'
        ELSE 'change-only' END AS basis,
    measured || CASE WHEN rise IS NULL
        THEN ' ' || coalesce(missing, 'has no baseline: no limits of temperature fit the machine')
        ELSE ' is ' || CASE WHEN rise < 0 THEN number_text(-rise) || ' K below'
            ELSE number_text(rise) || ' K above' END
            || ' its baseline of ' || number_text(baseline) || ' (' || baseline_first_day || ' to '
            || baseline_last_day || ')' END
        || CASE WHEN backstop_step > 1 THEN '; above ' || number_text(backstop)
            || ', a backstop' ELSE '' END
        || CASE WHEN step > 1
            THEN '; limits of common practice, no standard: greasing, load and the season raise '
                || 'it too' ELSE '' END AS reason,
    since
FROM compared
LEFT JOIN (
    SELECT step AS told_step, level AS told FROM judging_levels
    WHERE kind = 'change' AND basis = 'temperature'
) ON told_step = step;
