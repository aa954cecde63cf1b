-- purpose: why a series has nothing to be compared with as it runs now (rule J4), in words.
-- grain: one row a series with a judged day.
-- columns: series_id, missing (words that follow the name of what was measured; null where there is
--          a baseline in the operating bin it runs in).
-- depends: daily_statistics, baselines, series, bin_references, bin_text, setting
-- materialise: yes
-- kept: series_id
CREATE OR REPLACE VIEW baseline_words AS
WITH newest AS (
    SELECT series_id, arg_max_null(bin, day) AS bin, max(day) AS day FROM daily_statistics
    WHERE judged > 0 GROUP BY series_id
)
SELECT
    n.series_id,
    CASE
        WHEN n.bin IS NULL
            THEN 'has nothing to be compared with: its speed may vary and none is told'
        WHEN b.complete AND b.scattered THEN 'has no baseline: what it read from ' || b.first_day
            || ' to ' || b.last_day || ' scatters too much for one way of running'
        WHEN b.refused AND NOT b.scattered THEN 'has no baseline: the point was above B/C from '
            || b.first_day || ' to ' || b.last_day
        WHEN b.complete AND n.day > b.last_day THEN NULL
        WHEN b.complete THEN 'has only now a baseline to be compared with'
        WHEN s.method_group = 'route' THEN 'has no baseline to be compared with yet: '
            || coalesce(b.days, 0) || ' of ' || setting('baseline_visits')::INTEGER || ' visits'
        ELSE 'has no baseline to be compared with yet: ' || coalesce(b.days, 0) || ' of '
            || setting('baseline_days')::INTEGER || ' days, ' || coalesce(b.readings, 0) || ' of '
            || setting('baseline_readings')::INTEGER || ' readings after '
            || setting('run_in_hours')::INTEGER || ' h of run-in'
    END || CASE WHEN r.variable AND NOT coalesce(b.complete AND NOT b.refused, false)
        THEN ' at ' || bin_text(n.bin, r.reference_speed) ELSE '' END AS missing
FROM newest AS n
JOIN series AS s ON s.series_id = n.series_id
JOIN bin_references AS r ON r.site = s.site AND r.asset = s.asset
LEFT JOIN baselines AS b ON b.series_id = n.series_id AND b.bin = n.bin;
