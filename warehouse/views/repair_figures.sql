-- purpose: what each vibration series of a machine read before restoring work and after it, in the
--          same operating bin (rule W3).
-- grain: one row an event, machine and series with enough daily values on both sides.
-- columns: work_id, site, asset, member, worked_at (UTC, of the work), series_id, bin, before, after
--          (medians of daily medians, unit of the series), days_before, days_after (counts),
--          known_at (UTC: when there was enough to compare), better (fell below the share that
--          counts), above (still above B/C), comparable (series of the machine with enough daily
--          values before, count).
-- depends: restoring_work, series, daily_statistics, limited_series, setting
CREATE OR REPLACE VIEW repair_figures AS
WITH works AS (
    SELECT
        *, lead(worked_at) OVER (PARTITION BY site, asset, member ORDER BY worked_at, work_id) AS next_at
    FROM restoring_work
),
days AS (
    SELECT
        w.work_id, w.site, w.asset, w.member, w.worked_at, d.series_id, d.bin, d.day, d.median, d.last_at,
        d.last_at <= w.worked_at AS is_before, d.first_at > w.worked_at AS is_after,
        s.method_group = 'route' AS on_route
    FROM works AS w
    JOIN series AS s ON s.site = w.site AND s.asset = w.asset AND s.member = w.member
    JOIN daily_statistics AS d ON d.series_id = s.series_id
    WHERE s.quantity IN ('velocity', 'displacement', 'acceleration', 'acceleration-envelope')
        AND s.feature = 'overall' AND s.judged_detector IN ('rms', 'peak-to-peak')
        AND d.median IS NOT NULL AND d.bin IS NOT NULL
        AND (w.next_at IS NULL OR d.last_at <= w.next_at)
        AND (s.method_group = 'route'
            OR d.day BETWEEN CAST(timezone(s.time_zone, w.worked_at) AS DATE)
                    - setting('repair_days')::INTEGER
                AND CAST(timezone(s.time_zone, w.worked_at) AS DATE) + setting('repair_days')::INTEGER)
),
ranked AS (
    SELECT *,
        row_number() OVER (PARTITION BY work_id, member, series_id, bin, is_after
            ORDER BY CASE WHEN is_after THEN epoch_us(last_at) ELSE -epoch_us(last_at) END)
            AS nearest
    FROM days
    WHERE is_before OR is_after
),
compared AS (
    SELECT
        work_id, site, asset, member, worked_at, series_id, bin,
        median(median) FILTER (is_before) AS before,
        median(median) FILTER (is_after) AS after,
        count(*) FILTER (is_before) AS days_before, count(*) FILTER (is_after) AS days_after,
        max(last_at) FILTER (is_after AND nearest <= least) AS known_at,
        any_value(least) AS least
    FROM (SELECT *, CASE WHEN on_route THEN 1 ELSE setting('repair_least_days') END AS least
        FROM ranked)
    WHERE NOT on_route OR nearest = 1
    GROUP BY ALL
),
comparable AS (
    SELECT work_id, member, count(DISTINCT series_id) AS series
    FROM compared
    WHERE days_before >= least
    GROUP BY work_id, member
)
SELECT
    c.work_id, c.site, c.asset, c.member, c.worked_at, c.series_id, c.bin, c.before, c.after,
    c.days_before, c.days_after, c.known_at,
    c.after <= setting('repair_better_share') * c.before AS better,
    coalesce(round(c.after * l.to_rms, 9) > l.b_c, false) AS above,
    k.series AS comparable
FROM compared AS c
JOIN comparable AS k ON k.work_id = c.work_id AND k.member = c.member
LEFT JOIN limited_series AS l ON l.series_id = c.series_id
WHERE c.days_before >= c.least AND c.days_after >= c.least
QUALIFY row_number() OVER (PARTITION BY c.work_id, c.member, c.series_id
    ORDER BY c.days_after DESC, c.days_before DESC, c.bin) = 1;
