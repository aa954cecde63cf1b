-- purpose: which limit set each machine gets in each direction, why, and what was assumed (rules
--          M2, M5, J1). A hand assignment wins; else the first fitting block of the first set.
-- grain: one row a member and direction (axial, horizontal, vertical, radial = not known which).
-- columns: site, asset, member, direction, equipment_class, limit_set and limit_group (null =
--          unjudged), limit_edition, chosen_by (hand, rule, null), why (words), support
--          (rigid, flexible), assumed (words; null where nothing is), power_kw (kW),
--          lowest_speed (/min; null = not known), band_must_reach (Hz at its lowest speed;
--          null = the set's usual band), low_speed (/min).
-- depends: number_text
-- materialise: yes
CREATE OR REPLACE VIEW members_limits AS
WITH machines AS (
    SELECT
        m.*,
        coalesce(m.rated_power_kw, d.rated_power_kw) AS power_kw,
        m.rated_power_kw IS NULL AND d.rated_power_kw IS NOT NULL AS power_of_driver,
        coalesce(m.min_speed, m.rated_speed) AS lowest_speed,
        coalesce(string_split(m.assumed, ' '), []) AS assumed_fields
    FROM members AS m
    LEFT JOIN (
        SELECT site, asset, max(rated_power_kw) AS rated_power_kw
        FROM members WHERE role = 'driver' GROUP BY ALL
    ) AS d ON d.site = m.site AND d.asset = m.asset AND m.role = 'driven'
    WHERE m.equipment_class <> 'environment'
),
-- A bound needs a known value inside it; the scope of a set rejects a known value outside it.
fitting AS (
    SELECT
        m.site, m.asset, m.member, s.limit_set, g."group" AS limit_group,
        row_number() OVER (PARTITION BY m.site, m.asset, m.member, s.limit_set
            ORDER BY g.precedence) AS place_in_set,
        row_number() OVER (PARTITION BY m.site, m.asset, m.member
            ORDER BY s.priority, s.limit_set, g.precedence) AS place
    FROM machines AS m
    JOIN limit_groups AS g ON g.equipment_class = m.equipment_class
    JOIN limit_sets AS s ON s.limit_set = g.limit_set
    WHERE (g.power_over_kw IS NULL OR m.power_kw > g.power_over_kw)
        AND (g.power_up_to_kw IS NULL OR m.power_kw <= g.power_up_to_kw)
        AND (g.shaft_height_from_mm IS NULL OR m.shaft_height_mm >= g.shaft_height_from_mm)
        AND (g.shaft_height_below_mm IS NULL OR m.shaft_height_mm < g.shaft_height_below_mm)
        AND (g.pump_category IS NULL
            OR coalesce(m.pump_category, s.assumed_pump_category) = g.pump_category)
        AND coalesce(m.power_kw > s.scope_power_over_kw, true)
        AND coalesce(m.power_kw <= s.scope_power_up_to_kw, true)
        AND coalesce(m.rated_speed >= s.scope_speed_from, true)
        AND coalesce(m.rated_speed <= s.scope_speed_up_to, true)
        AND coalesce(m.vane_count >= s.scope_vanes_from, true)
),
assigned AS (
    SELECT
        site, asset, member, assigned_by, reason, limit_set AS assigned_text,
        split_part(limit_set, '/', 1) AS limit_set,
        nullif(split_part(limit_set, '/', 2), '') AS limit_group
    FROM limit_assignments
    WHERE assigned_from <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
        AND (assigned_to IS NULL OR assigned_to > CAST(getvariable('as_of') AS TIMESTAMPTZ))
    QUALIFY row_number() OVER (
        PARTITION BY site, asset, member ORDER BY assigned_from DESC, limit_set) = 1
),
chosen AS (
    SELECT
        m.*,
        a.assigned_text, a.assigned_by, a.reason AS assigned_reason,
        CASE WHEN a.member IS NULL THEN r.limit_set ELSE a.limit_set END AS wanted_set,
        CASE WHEN a.member IS NULL THEN r.limit_group
            ELSE coalesce(a.limit_group, h.limit_group) END AS wanted_group
    FROM machines AS m
    LEFT JOIN assigned AS a ON a.site = m.site AND a.asset = m.asset AND a.member = m.member
    LEFT JOIN fitting AS r
        ON r.site = m.site AND r.asset = m.asset AND r.member = m.member AND r.place = 1
    LEFT JOIN fitting AS h
        ON h.site = m.site AND h.asset = m.asset AND h.member = m.member
        AND h.limit_set = a.limit_set AND h.place_in_set = 1
),
known AS (
    SELECT
        c.*,
        v.limit_set, v."group" AS limit_group, v.support_matters,
        s.standard || ':' || s.edition AS limit_edition,
        s.assumed_support, s.low_speed, s.low_speed_inclusive, s.low_speed_band_low_hz,
        coalesce(c.pump_category, s.assumed_pump_category) AS category,
        c.pump_category IS NULL AND s.assumed_pump_category IS NOT NULL AS category_assumed,
        u.reason AS uncovered_reason
    FROM chosen AS c
    LEFT JOIN (
        SELECT limit_set, "group",
            count(DISTINCT b_c) > count(DISTINCT quantity) AS support_matters
        FROM limit_rows GROUP BY ALL
    ) AS v ON v.limit_set = c.wanted_set AND v."group" = c.wanted_group
    LEFT JOIN limit_sets AS s ON s.limit_set = v.limit_set
    LEFT JOIN uncovered_classes AS u ON u.equipment_class = c.equipment_class
),
directed AS (
    SELECT
        k.*, d.direction,
        CASE d.direction
            WHEN 'axial' THEN k.support_axial
            WHEN 'horizontal' THEN k.support_horizontal
            WHEN 'vertical' THEN k.support_vertical
            WHEN 'radial' THEN CASE
                WHEN k.support_horizontal = 'flexible' AND k.support_vertical = 'flexible'
                    THEN 'flexible'
                WHEN 'rigid' IN (k.support_horizontal, k.support_vertical) THEN 'rigid' END
        END AS known_support
    FROM known AS k
    CROSS JOIN (VALUES ('axial'), ('horizontal'), ('vertical'), ('radial')) AS d(direction)
)
SELECT
    site, asset, member, direction, equipment_class, limit_set, limit_group, limit_edition,
    CASE WHEN assigned_text IS NOT NULL THEN 'hand' WHEN limit_set IS NOT NULL THEN 'rule' END
        AS chosen_by,
    CASE
        WHEN assigned_text IS NOT NULL AND limit_set IS NULL
            THEN 'limit set ' || assigned_text || ', assigned by ' || assigned_by
                || ', is not loaded or has no group that fits'
        WHEN assigned_text IS NOT NULL
            THEN 'assigned by ' || assigned_by || ': ' || assigned_reason
        WHEN limit_set IS NULL THEN uncovered_reason
        ELSE equipment_class || ', '
            || CASE WHEN power_kw IS NULL THEN 'power not known'
                ELSE number_text(power_kw) || ' kW' END
            || coalesce(', shaft height ' || number_text(shaft_height_mm) || ' mm', '')
            || coalesce(', category ' || category, '')
    END AS why,
    CASE WHEN limit_set IS NOT NULL THEN coalesce(known_support, assumed_support) END AS support,
    CASE WHEN limit_set IS NOT NULL THEN nullif(concat_ws(', ',
        CASE WHEN support_matters AND known_support IS NULL THEN assumed_support || ' support' END,
        CASE WHEN support_matters AND direction <> 'radial' AND known_support IS NOT NULL
            AND list_contains(assumed_fields, 'support_' || direction)
            THEN known_support || ' support' END,
        CASE WHEN category_assumed OR list_contains(assumed_fields, 'pump_category')
            THEN 'category ' || category END,
        CASE WHEN power_of_driver THEN 'power as its driver'
            WHEN list_contains(assumed_fields, 'rated_power_kw') THEN 'rated power' END,
        CASE WHEN list_contains(assumed_fields, 'shaft_height_mm') THEN 'shaft height' END,
        CASE WHEN lowest_speed IS NULL
            THEN 'never below ' || number_text(low_speed) || ' r/min' END
    ), '') END AS assumed,
    power_kw,
    lowest_speed,
    CASE WHEN lowest_speed < low_speed OR (low_speed_inclusive AND lowest_speed = low_speed)
        THEN low_speed_band_low_hz END AS band_must_reach,
    low_speed
FROM directed;
