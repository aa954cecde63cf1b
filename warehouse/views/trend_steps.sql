-- purpose: the latest step of a series: a level that changed from one day to the next and stayed
--          (rule J8). A trend is taken behind it only. Not looked for on a route: its visits are
--          too far apart to tell a step from a slope.
-- grain: one row a series that has a step within the long window.
-- columns: series_id, step_on (first day of the new level), size (unit of trend_values).
-- depends: trend_values, trend_bins, trends_due, setting
-- materialise: yes
-- kept: series_id unless trends_due
CREATE OR REPLACE VIEW trend_steps AS
WITH lists AS (
    SELECT
        v.series_id,
        list(v.place ORDER BY v.place) AS places,
        list(v.value ORDER BY v.place) AS daily
    FROM trend_values AS v
    JOIN trend_bins AS b ON b.series_id = v.series_id
    SEMI JOIN trends_due AS t ON t.series_id = v.series_id
    WHERE NOT b.on_route AND v.day > b.today - CAST(setting('trend_long_days') AS INTEGER)
    GROUP BY v.series_id
),
found AS MATERIALIZED (
    SELECT
        series_id,
        latest_step(places, daily, setting('trend_step_week'), setting('trend_step_least_after'),
            setting('trend_step_scatter'), setting('trend_step_share'),
            setting('trend_step_at_once')) AS step
    FROM lists
)
SELECT
    series_id, DATE '1970-01-01' + CAST(step.day AS INTEGER) AS step_on, step.size AS size
FROM found
WHERE step IS NOT NULL;
