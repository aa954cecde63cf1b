-- purpose: the worst level of several points or machines; of one that is unknown, what it last was.
-- grain: aggregate macro over levels and last levels; null where none is known.
-- columns: a level.
-- depends: level_rank
CREATE OR REPLACE MACRO worst_level(level, last_level) AS (
    arg_max(coalesce(last_level, nullif(level, 'unknown')),
        level_rank(coalesce(last_level, nullif(level, 'unknown')), NULL, ''))
);
