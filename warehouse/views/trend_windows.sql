-- purpose: the trend of every series in every window that has enough daily values (rule J8), and
--          what its probability is worth among all trends of the fleet (Benjamini and Hochberg 1995).
-- grain: one row a series and window: 30 and 90 d, or 365 d on a route and where fewer days ran.
-- columns: series_id, window_days (d), days (count of daily values), first_place, last_place
--          (numbers of days), per_30_days, low, high (95 % bounds; null where so few
--          values have none) in the unit of trend_values per 30 d, level (the line today), s
--          (Mann-Kendall S), variance (of S, ties corrected), z (continuity corrected), factor (of
--          dependence on the variance), fixed_factor (given, not read), p (two-sided),
--          p_fleet (adjusted), p_bound (the p that counts in this fleet today).
-- depends: trend_fits, setting
-- materialise: yes
CREATE OR REPLACE VIEW trend_windows AS
WITH ranked AS (
    SELECT
        *, fit.p AS p,
        row_number() OVER (ORDER BY fit.p, series_id, window_days) AS rank,
        count(*) OVER () AS tests
    FROM trend_fits
),
adjusted AS (
    SELECT *, least(min(p * tests / rank) OVER (ORDER BY rank DESC), 1.0) AS p_fleet
    FROM ranked
)
SELECT
    series_id, CAST(window_days AS INTEGER) AS window_days, CAST(days AS INTEGER) AS days,
    first_place, last_place,
    30 * fit.slope AS per_30_days, 30 * fit.low AS low, 30 * fit.high AS high, fit.level AS level,
    fit.s AS s, fit.variance AS variance, fit.z AS z, fit.factor AS factor,
    fixed_factor, p, p_fleet,
    -- a trend alone in its fleet must be as sure as the first of all has to be
    greatest(count(*) FILTER (WHERE p_fleet <= setting('trend_false_discoveries')) OVER (), 1)
        * setting('trend_false_discoveries') / tests AS p_bound
FROM adjusted;
