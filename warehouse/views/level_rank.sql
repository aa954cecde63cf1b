-- purpose: order in which evidence governs (rules J6, J7). A point that was in alert or danger
--          and went silent outranks a watch or a healthy neighbour: silence is never green. So does
--          a reading that would be bad if it could be believed.
-- grain: scalar macro over a level, the level before it went unknown, and a basis.
-- columns: 6 danger, 5 alert, 4 unknown after alert or danger or to be verified, 3 watch, 2 normal,
--          1 unknown.
-- depends:
CREATE OR REPLACE MACRO level_rank(level, last_level, basis) AS (
    CASE
        WHEN level = 'danger' THEN 6
        WHEN level = 'alert' THEN 5
        WHEN level = 'unknown' AND (last_level IN ('alert', 'danger') OR basis = 'verify') THEN 4
        WHEN level = 'watch' THEN 3
        WHEN level = 'normal' THEN 2
        ELSE 1
    END
);
