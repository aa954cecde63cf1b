-- purpose: order in which evidence governs (rules J6, J7). A point that was in alert or danger
--          and went silent outranks a watch or a healthy neighbour: silence is never green.
-- grain: scalar macro over a level and the level before it went unknown.
-- columns: 6 danger, 5 alert, 4 unknown after alert or danger, 3 watch, 2 normal, 1 unknown.
-- depends:
CREATE OR REPLACE MACRO level_rank(level, last_level) AS (
    CASE
        WHEN level = 'danger' THEN 6
        WHEN level = 'alert' THEN 5
        WHEN level = 'unknown' AND last_level IN ('alert', 'danger') THEN 4
        WHEN level = 'watch' THEN 3
        WHEN level = 'normal' THEN 2
        ELSE 1
    END
);
