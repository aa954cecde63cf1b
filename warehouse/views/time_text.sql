-- purpose: a moment as a planner reads it, UTC, to the minute.
-- grain: scalar macro.
-- columns: text; `never` for null.
-- depends:
CREATE OR REPLACE MACRO time_text(moment) AS (
    coalesce(strftime(moment::TIMESTAMPTZ, '%Y-%m-%d %H:%M UTC'), 'never')
);
