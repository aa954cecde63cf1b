-- purpose: every limit set that fits a machine by rule, and its group: the first by precedence is
--          in force, the others are for information (rule J1).
-- grain: one row a member and limit set that fits it.
-- columns: site, asset, member, limit_set, limit_group, measures (vibration, temperature),
--          precedence (1 = first; null = for information only), place (1 = in force by rule; null
--          = for information only), left_out (whether only the plant's own order keeps it from
--          force), type_known (whether the set knows the pump's type), rule_confidence (of the rule
--          that leads to the group).
-- depends: limit_inputs
-- materialise: yes
CREATE OR REPLACE VIEW fitting_limits AS
WITH types AS (
    SELECT DISTINCT limit_set, unnest(pump_types) AS pump_type FROM limit_groups
),
-- A bound needs a known value inside it; the scope of a set rejects a known value outside it.
fitting AS (
    SELECT
        m.site, m.asset, m.member, s.limit_set, g."group" AS limit_group, s.measures, s.precedence,
        s.left_out, t.pump_type IS NOT NULL AS type_known, g.confidence AS rule_confidence
    FROM limit_inputs AS m
    JOIN limit_groups AS g ON g.equipment_class = m.equipment_class AND NOT g.by_hand
    JOIN limit_sets AS s ON s.limit_set = g.limit_set
    LEFT JOIN types AS t ON t.limit_set = s.limit_set AND t.pump_type = m.pump_type_words
    WHERE (g.power_over_kw IS NULL OR m.power_kw > g.power_over_kw)
        AND (g.power_up_to_kw IS NULL OR m.power_kw <= g.power_up_to_kw)
        AND (g.shaft_height_from_mm IS NULL OR m.shaft_height_mm >= g.shaft_height_from_mm)
        AND (g.shaft_height_below_mm IS NULL OR m.shaft_height_mm < g.shaft_height_below_mm)
        AND (g.pump_category IS NULL
            OR coalesce(m.pump_category, s.assumed_pump_category) = g.pump_category)
        AND (g.pump_types IS NULL
            OR list_contains(g.pump_types, coalesce(t.pump_type, s.assumed_pump_type)))
        AND (g.fan_application IS NULL
            OR coalesce(m.fan_application, s.assumed_fan_application) = g.fan_application)
        AND coalesce(m.power_kw > s.scope_power_over_kw, true)
        AND coalesce(m.power_kw <= s.scope_power_up_to_kw, true)
        AND coalesce(m.rated_speed >= s.scope_speed_from, true)
        AND coalesce(m.rated_speed <= s.scope_speed_up_to, true)
        AND coalesce(m.vane_count >= s.scope_vanes_from, true)
    QUALIFY row_number() OVER (
        PARTITION BY m.site, m.asset, m.member, s.limit_set ORDER BY g.precedence) = 1
)
SELECT
    *,
    CASE WHEN precedence IS NOT NULL THEN row_number() OVER (
        PARTITION BY site, asset, member, measures ORDER BY precedence NULLS LAST) END AS place
FROM fitting;
