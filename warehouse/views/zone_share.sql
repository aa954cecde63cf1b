-- purpose: share of machine time at each level and in each zone, week by week, as it was told at the
--          time. Unknown stands apart: it is no share of what is known.
-- grain: one row a site, site-local week, kind and grade that any train stood at.
-- columns: site, week (its Monday), kind (level, zone), grade (a level; a zone or grade of a limit
--          set, or `none` where the level rests on none), machines (trains, count), hours (h), share
--          (of the hours at a known level, 1; null for unknown), share_of_all (with the unknown, 1).
-- depends: level_weeks
CREATE OR REPLACE VIEW zone_share AS
WITH graded AS (
    SELECT site, asset, week, 'level' AS kind, level AS grade, level <> 'unknown' AS known, hours
    FROM level_weeks
    UNION ALL
    SELECT
        site, asset, week, 'zone',
        CASE WHEN level = 'unknown' THEN 'unknown' ELSE coalesce(zone, 'none') END,
        level <> 'unknown', hours
    FROM level_weeks
),
summed AS (
    SELECT
        site, week, kind, grade, known, count(DISTINCT asset) AS machines, sum(hours) AS hours
    FROM graded
    GROUP BY ALL
)
SELECT
    site, week, kind, grade, machines, hours,
    CASE WHEN known THEN hours / nullif(sum(hours) FILTER (known) OVER one, 0) END AS share,
    hours / nullif(sum(hours) OVER one, 0) AS share_of_all
FROM summed
WINDOW one AS (PARTITION BY site, week, kind);
