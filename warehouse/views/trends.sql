-- purpose: how every series moves, in figures and in words (rule J8): its trend, its latest step,
--          the time to the next boundary at the present rate (never a remaining life); or why no
--          trend is judged.
-- grain: one row a series with readings that the daily roll-up knows.
-- columns: series_id, state (rising, falling, level, not-judged), reason (words), window_days (d),
--          days (count of daily values), per_30_days, low, high (95 % bounds) in the canonical unit
--          of the series and its `judged_detector` per 30 d, p (two-sided, corrected for
--          dependence), p_fleet (adjusted for all trends of the fleet), step_on (site-local day),
--          step_size (same unit), boundary (the next one: A/B, B/C, C/D), boundary_days,
--          boundary_days_low, boundary_days_high (d; of both lines; null beyond the horizon), form
--          (linear, log-linear: which line crosses first), operating_bin (words).
-- depends: trend_moves, trend_samples, trend_bins, series, number_text, unit_text, setting
-- materialise: yes
CREATE OR REPLACE VIEW trends AS
WITH rising AS MATERIALIZED (
    SELECT
        m.*,
        t.places[-m.days:] AS places, t.daily[-m.days:] AS daily,
        date_diff('day', DATE '1970-01-01', t.today)::INTEGER AS today,
        list_min(list_filter([m.a_b, m.b_c, m.c_d], lambda one: one >= greatest(m.level, m.value)))
            AS next
    FROM trend_moves AS m
    JOIN trend_samples AS t ON t.series_id = m.series_id
    WHERE m.moving AND m.per_30_days > 0 AND m.zone IS NOT NULL
),
by_logarithm AS MATERIALIZED (
    SELECT
        series_id,
        trend_fit(places, list_transform(daily, lambda one: ln(one)), today, factor,
            setting('trend_z')) AS fit
    FROM rising
    WHERE list_min(daily) > 0
),
crossing AS (
    SELECT
        r.series_id, r.next,
        CASE r.next WHEN r.a_b THEN r.lower_name WHEN r.b_c THEN r.middle_name
            ELSE r.upper_name END AS boundary,
        least(r.window_days, setting('trend_horizon_days')) AS horizon,
        unnest([
            {'form': 'linear', 'slope': r.per_30_days / 30, 'low': r.low / 30, 'high': r.high / 30,
                'missing': r.next - r.level},
            {'form': 'log-linear', 'slope': l.fit.slope, 'low': l.fit.low, 'high': l.fit.high,
                'missing': ln(r.next) - l.fit.level}]) AS line
    FROM rising AS r
    LEFT JOIN by_logarithm AS l ON l.series_id = r.series_id
    WHERE r.next IS NOT NULL
),
-- The earlier line is told, but which of the two goes on is not known: the bounds are of both.
timed AS (
    SELECT
        series_id, next, boundary, horizon, line.form AS form,
        greatest(line.missing, 0) / line.slope AS days,
        min(greatest(line.missing, 0) / line.high) OVER of_series AS earliest,
        -- a line that may as well be level comes to no boundary
        CASE WHEN min(line.low) OVER of_series > 0
            THEN max(greatest(line.missing, 0) / line.low) OVER of_series END AS latest,
        line.low IS NOT NULL AND line.high IS NOT NULL AS has_bounds
    FROM crossing
    WHERE line.slope > 0
    WINDOW of_series AS (PARTITION BY series_id)
    QUALIFY row_number() OVER (PARTITION BY series_id ORDER BY days, form) = 1
),
crossed AS (
    SELECT
        series_id, next, boundary, horizon, form, has_bounds,
        CASE WHEN days <= horizon THEN days END AS boundary_days,
        CASE WHEN earliest <= horizon THEN earliest END AS boundary_days_low,
        CASE WHEN latest <= horizon THEN latest END AS boundary_days_high
    FROM timed
),
every AS (
    SELECT
        b.series_id, CASE s.unit WHEN '1' THEN '' ELSE ' ' || unit_text(s.unit) END AS in_unit,
        b.on_route, b.slow, b.fast, b.varies,
        t.in_short, t.in_long, t.visits, t.span, t.step_on, t.step_size,
        m.window_days, m.days, m.per_30_days, m.low, m.high, m.p, m.p_fleet, m.held,
        c.next, c.boundary, c.horizon, c.form, c.has_bounds, c.boundary_days, c.boundary_days_low,
        c.boundary_days_high,
        CASE
            WHEN m.series_id IS NULL THEN 'not-judged'
            WHEN NOT m.moving THEN 'level'
            WHEN m.per_30_days > 0 THEN 'rising'
            ELSE 'falling'
        END AS state
    FROM trend_bins AS b
    JOIN series AS s ON s.series_id = b.series_id
    LEFT JOIN trend_samples AS t ON t.series_id = b.series_id
    LEFT JOIN trend_moves AS m ON m.series_id = b.series_id
    LEFT JOIN crossed AS c ON c.series_id = b.series_id
),
worded AS (
    SELECT
        *,
        number_text(abs(per_30_days)) || in_unit || ' in 30 days ('
            || CASE WHEN low IS NULL OR high IS NULL THEN 'too few values for an interval'
                ELSE '95 %: ' || number_text(low) || ' to ' || number_text(high) END
            || ', from ' || days || CASE WHEN window_days > setting('trend_long_days')
                THEN ' values in ' ELSE ' daily values in ' END || window_days || ' days)' AS rate,
        CASE
            WHEN boundary IS NULL THEN ''
            WHEN boundary_days IS NULL THEN '; at the present rate not at ' || boundary || ' '
                || number_text(next) || ' within ' || horizon::INTEGER || ' days'
            ELSE '; at the present rate at ' || boundary || ' ' || number_text(next) || ' in '
                || format('{:.0f}', boundary_days) || ' days ('
                || CASE WHEN NOT has_bounds THEN 'too few values for an interval'
                    ELSE '95 % of both lines: ' || format('{:.0f}', boundary_days_low) || ' to '
                        || coalesce(format('{:.0f}', boundary_days_high),
                            'more than ' || horizon::INTEGER) END || ')'
        END AS time_to_boundary,
        CASE WHEN held THEN '; told on from the days before, today alone would not be sure or '
            || 'large enough' ELSE '' END AS told_on,
        CASE WHEN step_on IS NULL THEN '' ELSE 'a step of ' || CASE WHEN step_size < 0 THEN '-'
            ELSE '+' END || number_text(abs(step_size)) || in_unit || ' on '
            || step_on || '; since then ' END AS after_step
    FROM every
)
SELECT
    series_id, state,
    CASE state
        WHEN 'rising' THEN after_step || 'rising ' || rate || told_on || time_to_boundary
        WHEN 'falling' THEN after_step || 'falling ' || rate || told_on
        WHEN 'level' THEN after_step || 'no significant rise or fall: '
            || CASE WHEN per_30_days < 0 THEN '-' ELSE '+' END || rate
        ELSE CASE
            WHEN visits IS NULL AND varies AND slow IS NULL
                THEN 'trend not judged: the speed may vary and none is told'
            WHEN visits IS NULL THEN 'trend not judged: no daily value of steady running in '
                || setting('trend_route_days')::INTEGER || ' days'
            WHEN on_route THEN 'trend not judged: ' || visits || ' visits in '
                || setting('trend_route_days')::INTEGER || ' days, '
                || setting('trend_min_visits')::INTEGER || ' over more than '
                || setting('trend_visits_span_days')::INTEGER || ' days are needed'
            ELSE after_step || 'trend not judged: ' || in_long || ' daily values in '
                || setting('trend_long_days')::INTEGER || ' days, '
                || setting('trend_min_days')::INTEGER || ' are needed (or '
                || setting('trend_min_visits')::INTEGER || ' over more than '
                || setting('trend_visits_span_days')::INTEGER || ' days)'
        END
    END AS reason,
    window_days, days, per_30_days, low, high, p, p_fleet, step_on, step_size,
    boundary, boundary_days, boundary_days_low, boundary_days_high, form,
    'speed ' || round(slow)::INTEGER || ' to ' || round(fast)::INTEGER || ' r/min' AS operating_bin
FROM worded;
