-- purpose: how long each train and machine stood at a level, as it was told at the time (rule J12),
--          and whether it came into alert or danger then. Sensors are not counted: one train, or one
--          machine, has one level.
-- grain: one row a change of level, zone or basis of an asset or member before `as_of`.
-- columns: scope (asset, member), site, asset, member (null for an asset), seq, level, zone, basis,
--          since, until (UTC; the last until `as_of`, or until the train was removed), known_before (last level before that was
--          not unknown; null where there was none), entered (alert, danger: the level it came into from
--          a lower one; null else), came_back (into alert or worse from normal or watch), found (in
--          alert or worse when it was first judged: how long before nobody knows).
-- depends:
-- materialise: when asked
CREATE OR REPLACE VIEW level_spells AS
WITH ordered AS (
    SELECT
        scope, site, asset, member, seq, level_to AS level, zone_to AS zone, basis,
        judged_at AS since,
        coalesce(lead(judged_at) OVER one, CAST(getvariable('as_of') AS TIMESTAMPTZ)) AS told_until,
        last_value(CASE WHEN level_to <> 'unknown' THEN level_to END IGNORE NULLS) OVER (
            PARTITION BY scope, site, asset, member ORDER BY seq
            ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING) AS known_before
    FROM condition_log
    WHERE scope IN ('asset', 'member')
        AND judged_at <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
    WINDOW one AS (PARTITION BY scope, site, asset, member ORDER BY seq)
)
SELECT
    o.* EXCLUDE (told_until),
    greatest(o.since, least(o.told_until, a.service_from)) AS until,
    CASE
        WHEN level = 'danger' AND known_before <> 'danger' THEN 'danger'
        WHEN level = 'alert' AND known_before IN ('normal', 'watch') THEN 'alert'
    END AS entered,
    coalesce(level IN ('alert', 'danger') AND known_before IN ('normal', 'watch'), false)
        AS came_back,
    level IN ('alert', 'danger') AND known_before IS NULL AS found
FROM ordered AS o
LEFT JOIN assets AS a
    ON a.site = o.site AND a.asset = o.asset AND a.service_state = 'removed';
