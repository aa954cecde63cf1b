-- purpose: the daily values of each series behind its latest step, and how many of them fall into
--          each window: what a trend can be taken from, and why not where it cannot (rule J8).
-- grain: one row a series with a daily value in its bin.
-- columns: series_id, today, places, daily (lists in order of days: number of the day, value in
--          the unit of trend_values), in_short, in_long, visits (counts in 30, 90, 365 d), span
--          (days from the first to the last), step_on, step_size, judged_short, judged_long,
--          judged_visits (whether a trend is taken in that window).
-- depends: trend_values, trend_bins, trend_steps, setting
-- materialise: yes
CREATE OR REPLACE VIEW trend_samples AS
WITH counted AS (
    SELECT
        v.series_id, b.today, b.on_route, s.step_on, s.size AS step_size,
        list(v.place ORDER BY v.place) AS places,
        list(v.value ORDER BY v.place) AS daily,
        count(*) FILTER (WHERE v.day > b.today - CAST(setting('trend_days') AS INTEGER))
            AS in_short,
        count(*) FILTER (WHERE v.day > b.today - CAST(setting('trend_long_days') AS INTEGER))
            AS in_long,
        count(*) AS visits,
        max(v.place) - min(v.place) AS span
    FROM trend_values AS v
    JOIN trend_bins AS b ON b.series_id = v.series_id
    LEFT JOIN trend_steps AS s ON s.series_id = v.series_id
    WHERE v.day > b.today - CAST(setting('trend_route_days') AS INTEGER)
        AND (s.step_on IS NULL OR v.day >= s.step_on)
    GROUP BY v.series_id, b.today, b.on_route, s.step_on, s.size
)
SELECT
    * EXCLUDE (on_route),
    NOT on_route AND in_short >= setting('trend_min_days') AS judged_short,
    NOT on_route AND in_long >= setting('trend_min_days') AS judged_long,
    (on_route OR in_long < setting('trend_min_days'))
        AND visits >= setting('trend_min_visits') AND span > setting('trend_visits_span_days')
        AS judged_visits
FROM counted;
