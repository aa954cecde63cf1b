-- purpose: whether the engine can read times by a pattern of % directives; it refuses the others
-- grain: one row, from the parameter $pattern
SELECT try_strptime('', $pattern) AS ts
