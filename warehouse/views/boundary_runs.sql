-- purpose: how each series stands to each boundary that its readings ever exceeded persistently, and
--          since when (rule J5): one spike raises nothing, one dip lowers nothing.
-- grain: one row a series, basis, operating bin and boundary that was exceeded.
-- columns: series_id, basis, bin, boundary, held (exceeded and not persistently left), since (first
--          site-local day of that), repeated (its last reading and the one before were both above).
-- depends: judged_boundaries, daily_statistics, restored_series, setting
-- materialise: yes
-- A day says of a boundary: exceeded, left, or nothing. What its last reading says counts first; of
-- the rest of the day, that it was exceeded. Which day said something last decides.
-- With restoring work nothing is held any more: of that day only its last reading counts, of the
-- days before none (rule J6).
CREATE OR REPLACE VIEW boundary_runs AS
WITH days AS (
    SELECT
        *,
        -- The fast path: far above the upper boundary, or twice what was usual the day before.
        twice >= setting('fast_path_ratio') * lag(median) OVER in_time
            AND lag(day) OVER in_time >= day - 1
            AND lag(bin) OVER in_time IS NOT DISTINCT FROM bin AS doubled
    FROM daily_statistics
    WHERE judged > 0
    WINDOW in_time AS (PARTITION BY series_id ORDER BY day)
),
since_work AS (
    SELECT d.series_id, any_value(w.restored_at) AS restored_at, min(d.day) AS first_day
    FROM daily_statistics AS d
    JOIN restored_series AS w ON w.series_id = d.series_id AND d.last_at > w.restored_at
    WHERE d.judged > 0
    GROUP BY d.series_id
),
by_epoch AS (
    SELECT
        d.*, w.first_day AS first_day_since,
        coalesce(d.day = w.first_day AND d.first_at <= w.restored_at, false) AS mixed
    FROM days AS d
    LEFT JOIN since_work AS w ON w.series_id = d.series_id
),
said AS (
    SELECT
        b.series_id, b.basis, b.bin, b.boundary, b.limit_value, d.day, d.last_twice,
        d.first_day_since,
        CASE
            WHEN round(d.last_sustained, 9) > b.limit_value THEN true
            WHEN b.fast_value IS NOT NULL AND NOT d.mixed AND (d.twice > b.fast_value OR d.doubled)
                AND d.twice > b.limit_value THEN true
            WHEN d.last_settled < b.exit_value THEN false
            WHEN d.mixed THEN NULL
            WHEN round(d.sustained, 9) > b.limit_value THEN true
            WHEN d.settled < b.exit_value THEN false
        END AS exceeded
    FROM judged_boundaries AS b
    JOIN by_epoch AS d
        ON d.series_id = b.series_id AND (b.bin IS NULL OR d.bin = b.bin)
        AND (b.after IS NULL OR d.day > b.after)
),
turns AS (
    SELECT
        series_id, basis, bin, boundary,
        max(day) FILTER (exceeded) AS exceeded_on,
        any_value(first_day_since) AS first_day_since,
        -- greatest passes over a null
        greatest(DATE '0001-01-01', max(day) FILTER (NOT exceeded),
            any_value(first_day_since) - 1) AS left_on
    FROM said
    GROUP BY series_id, basis, bin, boundary
)
SELECT
    s.series_id, s.basis, s.bin, s.boundary,
    any_value(t.exceeded_on > t.left_on) AS held,
    CASE WHEN any_value(t.exceeded_on > t.left_on)
        THEN min(s.day) FILTER (s.exceeded AND s.day > t.left_on)
        ELSE coalesce(min(s.day) FILTER (NOT s.exceeded AND s.day > t.exceeded_on),
            any_value(t.first_day_since)) END AS since,
    coalesce(arg_max_null(s.last_twice, s.day) > any_value(s.limit_value), false) AS repeated
FROM turns AS t
JOIN said AS s
    ON s.series_id = t.series_id AND s.basis = t.basis AND s.boundary = t.boundary
    AND s.bin IS NOT DISTINCT FROM t.bin
WHERE t.exceeded_on IS NOT NULL
GROUP BY s.series_id, s.basis, s.bin, s.boundary;
