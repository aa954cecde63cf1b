-- purpose: the step of every limited series that lasts (rule J5): how many boundaries of its limit set
--          are held as exceeded, plus one.
-- grain: one row a series with limits and a judged day.
-- columns: series_id, step (1 to 4; 2 at least where the set has no lower boundary), since (first
--          site-local day of the run at this step or worse; where nothing is held, since a boundary
--          was left last), repeated (its last two readings agree).
-- depends: limited_series, held_boundaries, boundary_runs, daily_statistics
-- materialise: yes
-- kept: series_id
CREATE OR REPLACE VIEW held_steps AS
WITH highest AS (
    SELECT
        series_id, max(boundary) AS boundary, arg_max(since, boundary) AS since,
        arg_max(repeated, boundary) AS repeated
    FROM held_boundaries
    WHERE basis = 'severity'
    GROUP BY series_id
),
left_last AS (
    SELECT series_id, max(since) AS since
    FROM boundary_runs
    WHERE basis = 'severity' AND NOT held
    GROUP BY series_id
),
first_days AS (
    SELECT series_id, min(day) AS day FROM daily_statistics WHERE judged > 0 GROUP BY series_id
)
SELECT
    l.series_id,
    1 + coalesce(h.boundary, CASE WHEN l.a_b IS NULL THEN 1 ELSE 0 END) AS step,
    coalesce(h.since, e.since, f.day) AS since,
    coalesce(h.repeated, false) AS repeated
FROM limited_series AS l
JOIN first_days AS f ON f.series_id = l.series_id
LEFT JOIN highest AS h ON h.series_id = l.series_id
LEFT JOIN left_last AS e ON e.series_id = l.series_id
WHERE l.b_c IS NOT NULL;
