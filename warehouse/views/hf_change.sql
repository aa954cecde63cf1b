-- purpose: high-frequency acceleration and envelope against the series' own baseline (rule J3):
--          early bearing and gear damage barely moves the velocity. Never danger.
-- grain: one row a series of acceleration or envelope with a judged value.
-- columns: series_id, value, baseline (unit of the series), ratio (1), baseline_first_day,
--          baseline_last_day, baseline_readings, level (watch, alert; unknown = no change worth
--          telling, or no baseline yet), basis, reason (words), since (site-local day).
-- depends: series, judged_values, daily_statistics, number_text, unit_text, setting
CREATE OR REPLACE VIEW hf_change AS
WITH daily AS MATERIALIZED (
    SELECT series_id, day, judged, median, last_at FROM daily_statistics WHERE median IS NOT NULL
),
days AS (
    SELECT
        d.*, s.method_group,
        row_number() OVER (PARTITION BY d.series_id ORDER BY d.day) AS place
    FROM daily AS d
    JOIN series AS s ON s.series_id = d.series_id
    WHERE d.last_at >= s.baseline_from AND s.feature = 'overall'
        AND s.quantity IN ('acceleration', 'acceleration-envelope')
        AND s.detector IN ('rms', 'derived-peak', 'peak', 'peak-unspecified', 'peak-to-peak')
),
baselines AS (
    SELECT
        series_id, median(median) AS median, sum(judged) AS readings,
        min(day) AS first_day, max(day) AS last_day, max(last_at) AS until,
        any_value(method_group) AS method_group, count(*) AS days
    FROM days
    WHERE place <= CASE WHEN method_group = 'route' THEN setting('baseline_visits')
        ELSE setting('baseline_days') END
    GROUP BY series_id
),
compared AS (
    SELECT
        s.series_id, s.quantity, s.unit, s.judged_detector, s.band, s.position, s.axis, s.to_rms,
        v.value, v.measured_at, b.median * s.to_rms AS baseline, b.first_day, b.last_day,
        b.readings,
        CASE WHEN b.median > 0 AND v.measured_at > b.until
            AND CASE WHEN b.method_group = 'route' THEN b.days >= setting('baseline_visits')
                ELSE b.days >= setting('baseline_days')
                    AND b.readings >= setting('baseline_readings') END
            THEN round(v.value / (b.median * s.to_rms), 9) END AS ratio
    FROM judged_values AS v
    JOIN series AS s ON s.series_id = v.series_id
    JOIN baselines AS b ON b.series_id = v.series_id
),
graded AS MATERIALIZED (
    SELECT
        *,
        CASE WHEN ratio >= setting('hf_alert_ratio') THEN setting('hf_alert_ratio')
            WHEN ratio >= setting('hf_watch_ratio') THEN setting('hf_watch_ratio') END AS passed
    FROM compared
),
runs AS (
    SELECT
        g.series_id,
        max(d.day) FILTER (WHERE d.median * g.to_rms / g.baseline < g.passed) AS last_better
    FROM graded AS g
    JOIN daily AS d ON d.series_id = g.series_id
    WHERE g.passed IS NOT NULL
    GROUP BY g.series_id
),
since AS (
    SELECT r.series_id, coalesce(min(d.day), any_value(r.last_better)) AS since
    FROM runs AS r
    LEFT JOIN daily AS d
        ON d.series_id = r.series_id AND d.day > r.last_better
    GROUP BY r.series_id
)
SELECT
    g.series_id, g.value, g.baseline, g.ratio,
    g.first_day AS baseline_first_day, g.last_day AS baseline_last_day,
    g.readings AS baseline_readings,
    coalesce(v.level, 'unknown') AS level,
    CASE WHEN g.ratio IS NULL THEN 'no-baseline' WHEN g.passed IS NULL THEN 'change-only'
        ELSE 'hf-change' END AS basis,
    upper(g.quantity[1]) || g.quantity[2:] || ' ' || number_text(g.value) || ' '
        || unit_text(g.unit) || ' ' || g.judged_detector || coalesce(' in ' || g.band, '')
        || ' at ' || g.position || coalesce(' ' || g.axis, '')
        || CASE WHEN g.ratio IS NULL
            THEN ' has no baseline to be compared with yet'
            ELSE ' is ' || number_text(g.ratio) || ' times its baseline of '
                || number_text(g.baseline) || ' (' || g.first_day || ' to ' || g.last_day || ')'
        END
        || CASE WHEN g.passed IS NOT NULL
            THEN ': a sign of bearing, gear or lubrication trouble that velocity may not show'
            ELSE '' END AS reason,
    n.since
FROM graded AS g
LEFT JOIN since AS n ON n.series_id = g.series_id
LEFT JOIN judging_levels AS v
    ON v.basis = 'hf-change' AND v.step = CASE WHEN g.ratio >= setting('hf_alert_ratio') THEN 3
        WHEN g.ratio >= setting('hf_watch_ratio') THEN 2 END;
