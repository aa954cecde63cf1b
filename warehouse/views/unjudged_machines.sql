-- purpose: machines, or points of them, that no limit set judges: never green. Why, and what the
--          registry lacks to get one.
-- grain: one row a member without a limit set in force; and a position where its own assignment
--        gives none, or where the set goes by a part of the machine that it does not state.
-- columns: site, asset, member, position (null = the whole member), equipment_class, power_kw (kW;
--          null = not known), why (words), missing (columns of the registry, and a set that the
--          plant's own order leaves out, in words; null = nothing would bring a set in force),
--          would_fit (sets that may fit then).
-- depends: members_limits, limit_inputs
CREATE OR REPLACE VIEW unjudged_machines AS
WITH asked AS (
    SELECT
        m.site, m.asset, m.member, g.limit_set, s.left_out,
        list_filter([
            CASE WHEN m.power_kw IS NULL AND coalesce(g.power_over_kw, g.power_up_to_kw) IS NOT NULL
                THEN 'rated_power_kw' END,
            CASE WHEN m.shaft_height_mm IS NULL
                AND coalesce(g.shaft_height_from_mm, g.shaft_height_below_mm) IS NOT NULL
                THEN 'shaft_height_mm' END,
            CASE WHEN g.pump_category IS NOT NULL
                AND coalesce(m.pump_category, s.assumed_pump_category) IS NULL
                THEN 'pump_category' END,
            CASE WHEN g.pump_types IS NOT NULL AND s.assumed_pump_type IS NULL
                AND NOT coalesce(list_contains(g.pump_types, m.pump_type_words), false)
                THEN 'pump_type' END,
            CASE WHEN g.fan_application IS NOT NULL
                AND coalesce(m.fan_application, s.assumed_fan_application) IS NULL
                THEN 'fan_application' END,
            CASE WHEN s.left_out THEN s.limit_set || ' in the plant''s order' END
        ], lambda one: one IS NOT NULL) AS fields
    FROM limit_inputs AS m
    JOIN limit_groups AS g ON g.equipment_class = m.equipment_class AND NOT g.by_hand
    JOIN limit_sets AS s
        ON s.limit_set = g.limit_set AND s.measures = 'vibration'
        AND (s.precedence IS NOT NULL OR s.left_out)
    -- What is known must not speak against the group, nor against the scope of the set.
    WHERE coalesce(m.power_kw > g.power_over_kw, true)
        AND coalesce(m.power_kw <= g.power_up_to_kw, true)
        AND coalesce(m.shaft_height_mm >= g.shaft_height_from_mm, true)
        AND coalesce(m.shaft_height_mm < g.shaft_height_below_mm, true)
        AND coalesce(coalesce(m.pump_category, s.assumed_pump_category) = g.pump_category, true)
        AND coalesce(
            coalesce(m.fan_application, s.assumed_fan_application) = g.fan_application, true)
        AND coalesce(m.power_kw > s.scope_power_over_kw, true)
        AND coalesce(m.power_kw <= s.scope_power_up_to_kw, true)
        AND coalesce(m.rated_speed >= s.scope_speed_from, true)
        AND coalesce(m.rated_speed <= s.scope_speed_up_to, true)
        AND coalesce(m.vane_count >= s.scope_vanes_from, true)
),
-- A set in force that may fit goes before those that the plant has left out; of these, what asks
-- for the least.
nearest AS (
    SELECT * FROM asked
    WHERE len(fields) > 0
    QUALIFY left_out = bool_and(left_out) OVER (PARTITION BY site, asset, member)
        AND (NOT left_out
            OR len(fields) = min(len(fields)) OVER (PARTITION BY site, asset, member))
),
lacking AS (
    SELECT
        site, asset, member,
        array_to_string(list_sort(list(DISTINCT array_to_string(fields, ' and '))), ' or ')
            AS missing,
        string_agg(DISTINCT limit_set, ', ' ORDER BY limit_set) AS would_fit
    FROM nearest
    GROUP BY ALL
),
-- One row a place: the radial direction where it has no set, else the first that has none.
without AS (
    SELECT site, asset, member, position, equipment_class, power_kw, chosen_by, why
    FROM members_limits
    WHERE limit_set IS NULL
    QUALIFY row_number() OVER (
        PARTITION BY site, asset, member, position ORDER BY direction = 'radial' DESC, direction
    ) = 1
),
unplaced AS (
    SELECT
        p.site, p.asset, p.member, p.position, m.equipment_class, m.power_kw,
        m.limit_edition || ' goes by the part of the machine (' || m.parts
            || '), and the point states none' AS why,
        'part of the point' AS missing, m.limit_set AS would_fit
    FROM points AS p
    JOIN members_limits AS m
        ON m.site = p.site AND m.asset = p.asset AND m.member = p.member
        AND (m.position IS NULL OR m.position = p.position) AND m.direction = 'radial'
    WHERE p.part IS NULL
    QUALIFY row_number() OVER (
        PARTITION BY p.site, p.asset, p.position ORDER BY m.position NULLS LAST) = 1
        AND m.parts IS NOT NULL AND m.limit_set IS NOT NULL
),
found AS (
    SELECT
        w.* EXCLUDE (chosen_by),
        CASE WHEN w.chosen_by IS NULL THEN l.missing END AS missing,
        CASE WHEN w.chosen_by IS NULL THEN l.would_fit END AS would_fit
    FROM without AS w
    LEFT JOIN lacking AS l ON l.site = w.site AND l.asset = w.asset AND l.member = w.member
    UNION ALL BY NAME
    SELECT * FROM unplaced
)
SELECT f.*
FROM found AS f
JOIN assets AS a ON a.site = f.site AND a.asset = f.asset AND a.service_state <> 'removed';
