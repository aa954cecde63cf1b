-- purpose: a number as a planner reads it: three figures, no more digits than it carries.
-- grain: scalar macro.
-- columns: text; `not known` for null.
-- depends:
CREATE OR REPLACE MACRO number_text(number) AS (
    CASE
        WHEN number IS NULL THEN 'not known'
        WHEN abs(number) < 9.995 THEN format('{:.2f}', number)
        WHEN abs(number) < 99.95 THEN format('{:.1f}', number)
        ELSE format('{:.0f}', number)
    END
);
