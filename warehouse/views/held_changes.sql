-- purpose: changes from its own baseline that every series holds (rules J3, J13, criterion II), and
--          how it stands to that baseline now.
-- grain: one row a series and kind of change that could be judged of it.
-- columns: series_id, basis (change, hf-change, temperature-rise, temperature), step (1 nothing to
--          tell, 2 watch, 3 alert), since (site-local day), watch_value, alert_value (unit of the
--          series; null where there is none), bin, bin_now (operating bins: of the baseline
--          compared with, and of the newest judged day), baseline, baseline_mad (unit of the
--          series), baseline_first_day, baseline_last_day, baseline_readings.
-- depends: judged_boundaries, held_boundaries, baselines, daily_statistics
-- materialise: yes
-- kept: series_id
CREATE OR REPLACE VIEW held_changes AS
WITH newest AS (
    SELECT series_id, arg_max_null(bin, day) AS bin, max(day) AS day FROM daily_statistics
    WHERE judged > 0 GROUP BY series_id
),
compared AS (
    SELECT
        b.series_id, b.basis, b.bin,
        min(b.limit_value) FILTER (b.boundary = 1) AS watch_value,
        min(b.limit_value) FILTER (b.boundary = 2) AS alert_value,
        1 + coalesce(max(h.boundary), 0) AS step,
        arg_max(h.since, h.boundary) AS since
    FROM judged_boundaries AS b
    LEFT JOIN held_boundaries AS h
        ON h.series_id = b.series_id AND h.basis = b.basis AND h.boundary = b.boundary
        AND h.bin IS NOT DISTINCT FROM b.bin
    WHERE b.basis <> 'severity'
    GROUP BY b.series_id, b.basis, b.bin
)
SELECT
    c.*, n.bin AS bin_now, l.median AS baseline, l.mad AS baseline_mad,
    l.first_day AS baseline_first_day, l.last_day AS baseline_last_day,
    l.readings AS baseline_readings
FROM compared AS c
LEFT JOIN newest AS n ON n.series_id = c.series_id
LEFT JOIN baselines AS l ON l.series_id = c.series_id AND l.bin = c.bin
WHERE c.bin IS NULL OR n.day > l.last_day
-- Of several bins the one it runs in now is compared; of the others, what is held there.
QUALIFY row_number() OVER (
    PARTITION BY c.series_id, c.basis
    ORDER BY c.step DESC, coalesce(c.bin = n.bin, c.bin IS NULL) DESC, c.bin) = 1;
