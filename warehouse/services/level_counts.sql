-- purpose: how many machines stand at each level
-- grain: one row a level
SELECT level, count(*) AS assets FROM condition_current WHERE scope = 'asset' GROUP BY level
