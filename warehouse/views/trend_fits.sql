-- purpose: the line through the daily values of every series in every window that has enough of
--          them (rule J8): Mann-Kendall for days that resemble their neighbours, Theil-Sen slope
--          with its interval. Visits weeks apart are taken as independent.
-- grain: one row a series and window: 30 and 90 d, or 365 d on a route and where fewer days ran.
-- columns: series_id, window_days (d), days (count of daily values), fixed_factor (of dependence:
--          given, not read), first_place, last_place (numbers of days), fit (structure: slope, low,
--          high, level, s, variance, z, factor, p in the unit of trend_values and days).
-- depends: trend_samples, trends_due, setting
-- materialise: yes
-- kept: series_id unless trends_due
CREATE OR REPLACE VIEW trend_fits AS
WITH wanted AS (
    SELECT
        series_id, today, places, daily,
        unnest([
            {'taken': judged_short, 'days': in_short, 'length': setting('trend_days'),
                'factor': NULL::DOUBLE},
            {'taken': judged_long, 'days': in_long, 'length': setting('trend_long_days'),
                'factor': NULL::DOUBLE},
            {'taken': judged_visits, 'days': visits, 'length': setting('trend_route_days'),
                'factor': 1.0}]) AS of
    FROM trend_samples
    SEMI JOIN trends_due USING (series_id)
)
SELECT
    series_id, of.length AS window_days, of.days AS days, of.factor AS fixed_factor,
    places[-of.days] AS first_place, places[-1] AS last_place,
    trend_fit(places[-of.days:], daily[-of.days:],
        date_diff('day', DATE '1970-01-01', today)::INTEGER, of.factor, setting('trend_z'))
        AS fit
FROM wanted
WHERE of.taken;
