-- purpose: what each series was like when it was well, in one operating bin (rule J4): after the
--          run-in, the first days that are enough. It never moves; a new machine begins another, and
--          restoring work one that counts once it is complete and no worse than zone B.
-- grain: one row a series of vibration or temperature and operating bin with a day after its run-in.
-- columns: series_id, bin, median, mad (median absolute deviation; both in the unit of the series),
--          first_day, last_day (site-local), days, readings (counts), until (UTC), complete (enough
--          for a comparison), refused (no baseline of health: the point was above B/C meanwhile, or
--          scattered), scattered (half of its days lie further from their median than a share of it),
--          epoch (0 the first), work_id (the work it was taken after; null for none).
-- depends: daily_statistics, series, baseline_epochs, limited_series, setting
-- materialise: yes
CREATE OR REPLACE VIEW baselines AS
WITH run_in AS (
    SELECT
        d.series_id, e.epoch, e.work_id, d.bin, d.day, d.in_bin, d.median, d.last_at,
        s.site, s.asset, s.position, s.quantity, s.method_group = 'route' AS on_route,
        row_number() OVER earlier - 1 AS days_before,
        coalesce(sum(d.in_bin) OVER (earlier ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING), 0)
            AS readings_before
    FROM daily_statistics AS d
    JOIN series AS s ON s.series_id = d.series_id
    JOIN baseline_epochs AS e ON e.series_id = d.series_id
    WHERE d.median IS NOT NULL AND d.bin IS NOT NULL AND s.feature = 'overall'
        AND (e.epoch_until IS NULL OR d.last_at < e.epoch_until)
        AND d.first_at >= e.epoch_from + CASE WHEN s.method_group = 'route' THEN INTERVAL 0 HOURS
            ELSE to_hours(setting('run_in_hours')::BIGINT) END
    WINDOW earlier AS (PARTITION BY d.series_id, e.epoch, d.bin ORDER BY d.day)
),
taken AS (
    SELECT * FROM run_in
    WHERE CASE WHEN on_route THEN days_before < setting('baseline_visits')
        ELSE days_before < setting('baseline_days')
            OR readings_before < setting('baseline_readings') END
),
counted AS (
    SELECT
        series_id, epoch, bin, any_value(work_id) AS work_id, any_value(site) AS site, any_value(asset) AS asset,
        any_value(position) AS position, any_value(quantity) AS quantity,
        bool_or(on_route) AS on_route,
        median(median) AS median, mad(median) AS mad,
        min(day) AS first_day, max(day) AS last_day, count(*) AS days,
        sum(in_bin)::BIGINT AS readings, max(last_at) AS until
    FROM taken
    GROUP BY series_id, epoch, bin
),
unhealthy AS (
    SELECT l.site, l.asset, l.position, d.day
    FROM limited_series AS l
    JOIN daily_statistics AS d ON d.series_id = l.series_id
    WHERE l.b_c IS NOT NULL AND round(d.median * l.to_rms, 9) > l.b_c
),
candidates AS (
    SELECT
        series_id, epoch, work_id, bin, median, mad, first_day, last_day, days, readings, until,
        CASE WHEN on_route THEN days >= setting('baseline_visits')
            ELSE days >= setting('baseline_days') AND readings >= setting('baseline_readings') END
            AS complete,
        EXISTS (
            SELECT 1 FROM unhealthy AS u
            WHERE u.site = counted.site AND u.asset = counted.asset
                AND u.position = counted.position
                AND u.day BETWEEN counted.first_day AND counted.last_day
        ) AS ill,
        -- a share of a temperature says nothing: its zero is anywhere
        coalesce(quantity <> 'temperature' AND mad > setting('baseline_scatter') * median, false)
            AS scattered
    FROM counted
)
SELECT
    series_id, bin, median, mad, first_day, last_day, days, readings, until, complete,
    ill OR scattered AS refused, scattered, epoch, work_id
FROM candidates
-- The newest that is accepted; while none is, the newest that is being learnt.
QUALIFY row_number() OVER (
    PARTITION BY series_id, bin ORDER BY complete AND NOT (ill OR scattered) DESC, epoch DESC) = 1;
