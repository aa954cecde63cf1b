-- purpose: which window speaks for a series, and whether its trend is one to tell: significant
--          among all of the fleet and large against B/C (rule J8), or told within the last two
--          weeks and not gone since. All of it from the values of today: no state is kept.
-- grain: one row a series that has a trend in any window.
-- columns: those of trend_windows; moving (a rise or fall to tell), held (told on, on the laxer bound),
--          zone, a_b, b_c, c_d, value, lower_name, middle_name, upper_name (of severity_zones;
--          null where no zone applies).
-- depends: trend_windows, trend_samples, severity_zones, setting
-- materialise: yes
CREATE OR REPLACE VIEW trend_moves AS
WITH measured AS (
    SELECT
        w.*, z.zone, z.a_b, z.b_c, z.c_d, z.value, z.lower_name, z.middle_name, z.upper_name,
        -- where no boundary applies a trend is measured against the level it has reached
        abs(w.per_30_days) / nullif(coalesce(z.b_c, abs(w.level)), 0) AS share
    FROM trend_windows AS w
    LEFT JOIN severity_zones AS z ON z.series_id = w.series_id AND z.zone IS NOT NULL
),
graded AS MATERIALIZED (
    SELECT
        *,
        coalesce(p_fleet <= setting('trend_false_discoveries')
            AND share >= setting('trend_watch_share'), false) AS enters,
        coalesce(p <= setting('trend_hold_p')
            AND share >= setting('trend_hold_share'), false) AS stays
    FROM measured
),
-- What the same window said on each of the days before, for the few that only just hold.
days_before AS (
    SELECT
        g.series_id, g.window_days, g.days, g.per_30_days, g.share, g.p_bound, g.fixed_factor,
        t.places, t.daily, b.back,
        date_diff('day', DATE '1970-01-01', t.today)::INTEGER - b.back AS until
    FROM graded AS g
    JOIN trend_samples AS t ON t.series_id = g.series_id
    CROSS JOIN (SELECT unnest(range(1, CAST(setting('trend_hold_days') AS BIGINT) + 1))::INTEGER
        AS back) AS b
    WHERE g.stays AND NOT g.enters
),
placed AS (
    SELECT
        *,
        len(list_filter(places, lambda one: one <= until - window_days)) + 1 AS first,
        len(list_filter(places, lambda one: one <= until)) AS last
    FROM days_before
),
said AS MATERIALIZED (
    SELECT
        series_id, window_days, back, per_30_days, share, p_bound,
        trend_fit(places[first:last], daily[first:last], until, fixed_factor, setting('trend_z'))
            AS fit
    FROM placed
    WHERE last - first + 1 >= CASE WHEN fixed_factor IS NULL THEN setting('trend_min_days')
        ELSE setting('trend_min_visits') END
),
shares AS (
    SELECT *, 30 * fit.slope / per_30_days * share AS share_then FROM said
),
latest AS (
    SELECT
        series_id, window_days,
        min(back) FILTER (WHERE fit.p <= p_bound
            AND share_then >= setting('trend_watch_share')) AS entered,
        min(back) FILTER (WHERE fit.p > setting('trend_hold_p')
            OR share_then < setting('trend_hold_share')) AS gone
    FROM shares
    GROUP BY ALL
),
moves AS (
    SELECT
        g.*,
        coalesce(l.entered < coalesce(l.gone, 1000), false) AS held,
        max(g.low) FILTER (WHERE g.window_days = setting('trend_days')) OVER of_series AS short_low,
        max(g.high) FILTER (WHERE g.window_days = setting('trend_days')) OVER of_series
            AS short_high
    FROM graded AS g
    LEFT JOIN latest AS l ON l.series_id = g.series_id AND l.window_days = g.window_days
    WINDOW of_series AS (PARTITION BY g.series_id)
),
told AS (
    SELECT
        *,
        -- What rose over the quarter but not in the last 30 days rises no longer.
        (enters OR held) AND coalesce(CASE WHEN per_30_days > 0
            THEN short_high >= setting('trend_hold_share') / share * per_30_days
            ELSE short_low <= setting('trend_hold_share') / share * per_30_days END, true)
            AS moving
    FROM moves
)
SELECT * EXCLUDE (share, enters, stays, short_low, short_high)
FROM told
-- A window that says it today goes before one in which it is only told on.
QUALIFY row_number() OVER (
    PARTITION BY series_id ORDER BY moving DESC, moving AND held, window_days) = 1;
