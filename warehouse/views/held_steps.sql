-- purpose: the step of every limited series that its readings have persistently reached and not
--          persistently left (rule J5): one spike does not raise it, one dip does not lower it.
-- grain: one row a series with limits and a judged day.
-- columns: series_id; step (1 to 4: boundaries held as exceeded, plus one; the least step the set
--          can say where it has no lower boundary); since (first site-local day of the run at this
--          step or worse); repeated (its last reading and the one before were both above the
--          boundary below this step).
-- depends: limited_series, daily_statistics, setting
-- materialise: yes
-- A day says of a boundary: exceeded, left, or nothing. What its last reading says counts first; of
-- the rest of the day, that it was exceeded. Which day said something last decides.
CREATE OR REPLACE VIEW held_steps AS
WITH days AS (
    SELECT
        l.series_id, l.a_b, l.b_c, l.c_d, d.day,
        round(d.sustained * l.to_rms, 9) AS sustained,
        round(d.settled * l.to_rms, 9) AS settled,
        round(d.last_sustained * l.to_rms, 9) AS last_sustained,
        round(d.last_settled * l.to_rms, 9) AS last_settled,
        round(d.last_twice * l.to_rms, 9) AS last_twice,
        -- The fast path: far above the upper boundary, or twice what was usual the day before.
        CASE WHEN l.method_group = 'route' THEN NULL
            WHEN d.twice * l.to_rms > setting('fast_path_share') * l.c_d
                OR d.twice >= setting('fast_path_ratio') * lag(d.median) OVER in_time
                    AND lag(d.day) OVER in_time >= d.day - 1
            THEN round(d.twice * l.to_rms, 9) END AS fast
    FROM limited_series AS l
    JOIN daily_statistics AS d ON d.series_id = l.series_id AND d.judged > 0
    WHERE l.b_c IS NOT NULL
    WINDOW in_time AS (PARTITION BY d.series_id ORDER BY d.day)
),
said AS (
    SELECT
        series_id, day, boundary,
        CASE
            WHEN greatest(last_sustained, fast) > limit_value THEN true
            WHEN last_settled < setting('exit_share') * limit_value THEN false
            WHEN sustained > limit_value THEN true
            WHEN settled < setting('exit_share') * limit_value THEN false
        END AS exceeded
    FROM (
        SELECT *, unnest([1, 2, 3]) AS boundary, unnest([a_b, b_c, c_d]) AS limit_value FROM days
    )
    WHERE limit_value IS NOT NULL
),
turns AS (
    SELECT
        series_id, boundary,
        max(day) FILTER (exceeded) AS exceeded_on,
        max(day) FILTER (NOT exceeded) AS left_on
    FROM said
    GROUP BY series_id, boundary
),
held AS (
    SELECT t.series_id, t.boundary, min(s.day) AS since
    FROM turns AS t
    JOIN said AS s
        ON s.series_id = t.series_id AND s.boundary = t.boundary AND s.exceeded
        AND s.day > coalesce(t.left_on, DATE '0001-01-01')
    WHERE t.exceeded_on > coalesce(t.left_on, DATE '0001-01-01')
    GROUP BY t.series_id, t.boundary
),
highest AS (
    SELECT series_id, max(boundary) AS boundary, arg_max(since, boundary) AS since
    FROM held GROUP BY series_id
)
SELECT
    d.series_id,
    coalesce(h.boundary, CASE WHEN any_value(d.a_b) IS NULL THEN 1 ELSE 0 END) + 1 AS step,
    coalesce(h.since, min(d.day)) AS since,
    coalesce(arg_max_null(d.last_twice, d.day)
        > any_value([d.a_b, d.b_c, d.c_d][h.boundary]), false) AS repeated
FROM days AS d
LEFT JOIN highest AS h ON h.series_id = d.series_id
GROUP BY d.series_id, h.boundary, h.since;
