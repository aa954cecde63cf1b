-- purpose: every value that the readings of a series are held against: limits of a set, and changes
--          from its baseline. Persistence and hysteresis are the same for all of them (rule J5).
-- grain: one row a series, basis and boundary.
-- columns: series_id, basis (severity, change, hf-change, temperature-rise, temperature), boundary
--          (1 lower, 2 middle, 3 upper: of a change 1 watch, 2 alert), limit_value, exit_value (below which it is left), fast_value
--          (two readings in succession above it count at once; null = no fast path): unit of the
--          series; bin, after (only days in this operating bin and after this day; null = any).
-- depends: limited_series, fitting_limits, baselines, series, setting
-- materialise: yes
CREATE OR REPLACE VIEW judged_boundaries AS
WITH usable AS (
    SELECT b.*, s.quantity, s.method_group, s.detector
    FROM baselines AS b
    JOIN series AS s ON s.series_id = b.series_id
    WHERE b.complete AND NOT b.refused
),
limits AS (
    SELECT
        series_id, to_rms, b_c / to_rms AS b_c, c_d / to_rms AS c_d, method_group,
        unnest([1, 2, 3]) AS boundary, unnest([a_b, b_c, c_d]) / to_rms AS limit_value
    FROM limited_series
    WHERE b_c IS NOT NULL
),
temperatures AS (
    SELECT
        s.series_id, w.reference, unnest([1, 2]) AS boundary,
        unnest([w.lower, w.middle]) AS limit_value
    FROM series AS s
    JOIN fitting_limits AS f
        ON f.site = s.site AND f.asset = s.asset AND f.member = s.member
        AND f.measures = 'temperature' AND f.place = 1
    JOIN limit_rows AS w
        ON w.limit_set = f.limit_set AND w."group" = f.limit_group
        AND w.quantity = s.quantity AND w.support = 'rigid'
    WHERE s.bearing_housing AND s.feature = 'overall'
),
said AS (
    SELECT
        series_id, 'severity' AS basis, boundary, limit_value,
        setting('exit_share') * limit_value AS exit_value,
        CASE WHEN method_group <> 'route' THEN setting('fast_path_share') * c_d END AS fast_value,
        NULL::INTEGER AS bin, NULL::DATE AS after
    FROM limits
    UNION ALL
    -- Criterion II of ISO 20816-3: a change of more than a quarter of B/C is significant.
    SELECT
        l.series_id, 'change', 1, u.median + setting('change_share') * l.b_c,
        u.median + setting('exit_share') * setting('change_share') * l.b_c, NULL, u.bin, u.last_day
    FROM limits AS l
    JOIN usable AS u ON u.series_id = l.series_id
    WHERE l.boundary = 2
    UNION ALL
    SELECT
        series_id, 'hf-change', boundary, ratio * median,
        setting('exit_share') * ratio * median, NULL, bin, last_day
    FROM (
        SELECT *, unnest([1, 2]) AS boundary,
            unnest([setting('hf_watch_ratio'), setting('hf_alert_ratio')]) AS ratio
        FROM usable
        WHERE quantity IN ('acceleration', 'acceleration-envelope') AND median > 0
            AND detector IN ('rms', 'derived-peak', 'peak', 'peak-unspecified', 'peak-to-peak')
    )
    UNION ALL
    SELECT
        t.series_id, 'temperature-rise', t.boundary, u.median + t.limit_value,
        u.median + setting('exit_share') * t.limit_value, NULL, u.bin, u.last_day
    FROM temperatures AS t
    JOIN usable AS u ON u.series_id = t.series_id
    WHERE t.reference = 'baseline'
    UNION ALL
    SELECT
        series_id, 'temperature', boundary, limit_value,
        limit_value - setting('temperature_exit'), NULL, NULL, NULL
    FROM temperatures
    WHERE reference = 'absolute'
)
SELECT * FROM said
WHERE limit_value IS NOT NULL;
