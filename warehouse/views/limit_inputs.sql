-- purpose: what the choice of limits goes by, of every machine (rules M2, M5, J1).
-- grain: one row a member (measuring stations are no machines).
-- columns: the columns of `members`, power_kw (kW; of its driver where a driven machine states
--          none), power_of_driver, lowest_speed (/min; null = not known), pump_type_words
--          (lower case, no hyphens), assumed_fields (list of names).
-- depends:
-- materialise: yes
CREATE OR REPLACE VIEW limit_inputs AS
SELECT
    m.*,
    coalesce(m.rated_power_kw, d.rated_power_kw) AS power_kw,
    m.rated_power_kw IS NULL AND d.rated_power_kw IS NOT NULL AS power_of_driver,
    coalesce(m.min_speed, m.rated_speed) AS lowest_speed,
    replace(lower(trim(m.pump_type)), '-', ' ') AS pump_type_words,
    coalesce(string_split(m.assumed, ' '), []) AS assumed_fields
FROM members AS m
LEFT JOIN (
    SELECT site, asset, max(rated_power_kw) AS rated_power_kw
    FROM members WHERE role = 'driver' GROUP BY ALL
) AS d ON d.site = m.site AND d.asset = m.asset AND m.role = 'driven'
WHERE m.equipment_class <> 'environment';
