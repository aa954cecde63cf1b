-- purpose: a UCUM unit as a planner reads it.
-- grain: scalar macro.
-- columns: text.
-- depends:
CREATE OR REPLACE MACRO unit_text(unit) AS (
    CASE unit WHEN 'um' THEN 'µm' WHEN 'm/s2' THEN 'm/s²' WHEN 'Cel' THEN '°C'
        WHEN '/min' THEN 'r/min' ELSE unit END
);
