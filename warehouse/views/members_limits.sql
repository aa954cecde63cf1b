-- purpose: which limit set each machine gets in each direction, why, and what was assumed (rules
--          M2, M5, J1). A hand assignment in force wins, that of a point for this point; else the
--          first fitting set by precedence.
-- grain: one row a member, or position with an assignment of its own, and direction (axial,
--        horizontal, vertical, radial = not known which).
-- columns: site, asset, member, position (null = the whole member), direction, equipment_class,
--          limit_set and limit_group (null = unjudged), limit_edition, limit_kind, chosen_by (hand, rule, null), why (words),
--          support (rigid, flexible), assumed (words; null where nothing is), power_kw (kW),
--          lowest_speed (/min; null = not known), band_must_reach (Hz at its lowest speed;
--          null = the set's usual band), low_speed (/min), parts (parts of the machine the limits
--          go by, in words; null = bearing housings), worse_quantity_governs, known_support (as
--          registered; null = not known).
-- depends: limit_inputs, fitting_limits, number_text, setting
-- materialise: yes
CREATE OR REPLACE VIEW members_limits AS
WITH assigned AS (
    SELECT
        site, asset, member, position, assigned_by, reason,
        limit_set || coalesce('/' || limit_group, '') AS assigned_text,
        split_part(limit_set, '/', 1) AS limit_set,
        coalesce(limit_group, nullif(split_part(limit_set, '/', 2), '')) AS limit_group
    FROM limit_assignments
    WHERE assigned_from <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
        AND (assigned_to IS NULL OR assigned_to > CAST(getvariable('as_of') AS TIMESTAMPTZ))
    QUALIFY row_number() OVER (
        PARTITION BY site, asset, member, position
        ORDER BY assigned_from DESC, limit_set, limit_group) = 1
),
places AS (
    SELECT site, asset, member, CAST(NULL AS VARCHAR) AS position FROM limit_inputs
    UNION ALL
    SELECT site, asset, member, position FROM assigned WHERE position IS NOT NULL
),
chosen AS (
    SELECT
        m.*,
        p.position, a.assigned_text, a.assigned_by, a.reason AS assigned_reason,
        CASE WHEN a.member IS NULL THEN r.limit_set ELSE a.limit_set END AS wanted_set,
        CASE WHEN a.member IS NULL THEN r.limit_group
            ELSE coalesce(a.limit_group, h.limit_group) END AS wanted_group,
        coalesce(CASE WHEN a.member IS NULL THEN r.type_known ELSE h.type_known END, false)
            AS type_known,
        a.limit_group IS NOT NULL AS group_given,
        CASE WHEN a.member IS NULL THEN r.rule_confidence END AS rule_confidence
    FROM limit_inputs AS m
    JOIN places AS p ON p.site = m.site AND p.asset = m.asset AND p.member = m.member
    LEFT JOIN assigned AS a
        ON a.site = m.site AND a.asset = m.asset AND a.member = m.member
        AND a.position IS NOT DISTINCT FROM p.position
    LEFT JOIN fitting_limits AS r
        ON r.site = m.site AND r.asset = m.asset AND r.member = m.member
        AND r.place = 1 AND r.measures = 'vibration'
    LEFT JOIN fitting_limits AS h
        ON h.site = m.site AND h.asset = m.asset AND h.member = m.member
        AND h.limit_set = a.limit_set
),
valued AS (
    SELECT
        limit_set, "group",
        count(DISTINCT (part, quantity, speed_up_to, lower, middle, upper))
            > count(DISTINCT (part, quantity, speed_up_to)) AS support_matters,
        string_agg(DISTINCT part, ', ' ORDER BY part) AS parts,
        list(DISTINCT support) AS supports
    FROM limit_rows
    WHERE quantity IN ('velocity', 'displacement')
    GROUP BY ALL
),
covered AS (
    SELECT DISTINCT limit_set, equipment_class FROM limit_groups
),
-- What would judge but for the plant's own order: sets that fit a machine, and those of its class.
left_out AS (
    SELECT
        site, asset, member,
        string_agg(limit_set || ' (' || limit_group || ')', ' and ' ORDER BY limit_set) AS fitting
    FROM fitting_limits
    WHERE left_out AND measures = 'vibration'
    GROUP BY ALL
),
left_out_of_class AS (
    SELECT g.equipment_class, string_agg(DISTINCT s.limit_set, ', ' ORDER BY s.limit_set) AS sets
    FROM limit_groups AS g
    JOIN limit_sets AS s ON s.limit_set = g.limit_set AND s.left_out AND s.measures = 'vibration'
    WHERE NOT g.by_hand
    GROUP BY ALL
),
known AS (
    SELECT
        c.*,
        v.limit_set AS valued_set, v."group" AS valued_group, v.support_matters, v.parts,
        v.supports, s.measures, s.standard || ':' || s.edition AS limit_edition, s.kind AS limit_kind, s.in_service,
        s.assumed_support, s.assumed_pump_type, s.assumed_operating_region,
        s.worse_quantity_governs, coalesce(s.low_speed, setting('slow_speed')) AS low_speed,
        coalesce(s.low_speed_inclusive, false) AS low_speed_inclusive,
        coalesce(s.low_speed_band_low_hz, setting('slow_band_low')) AS low_speed_band_low_hz,
        coalesce(c.pump_category, s.assumed_pump_category) AS category,
        c.pump_category IS NULL AND s.assumed_pump_category IS NOT NULL AS category_assumed,
        coalesce(c.fan_application, s.assumed_fan_application) AS application,
        c.fan_application IS NULL AND s.assumed_fan_application IS NOT NULL
            AS application_assumed,
        v.limit_set IS NOT NULL AND e.limit_set IS NULL AS is_proxy,
        CASE WHEN o.fitting IS NOT NULL
            THEN 'it fits ' || o.fitting || ', which the plant''s own order leaves out'
            ELSE u.reason || coalesce('; the plant''s own order leaves out ' || n.sets, '')
            END AS uncovered_reason
    FROM chosen AS c
    LEFT JOIN limit_sets AS s ON s.limit_set = c.wanted_set
    LEFT JOIN valued AS v ON v.limit_set = s.limit_set AND v."group" = c.wanted_group
    LEFT JOIN covered AS e
        ON e.limit_set = v.limit_set AND e.equipment_class = c.equipment_class
    LEFT JOIN uncovered_classes AS u ON u.equipment_class = c.equipment_class
    LEFT JOIN left_out AS o
        ON o.site = c.site AND o.asset = c.asset AND o.member = c.member
    LEFT JOIN left_out_of_class AS n ON n.equipment_class = c.equipment_class
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
),
-- A set without values for this support judges nothing: that is told, never passed over.
settled AS (
    SELECT
        *,
        CASE WHEN list_contains(supports, coalesce(known_support, assumed_support))
            THEN valued_set END AS limit_set,
        CASE WHEN list_contains(supports, coalesce(known_support, assumed_support))
            THEN valued_group END AS limit_group
    FROM directed
)
SELECT
    site, asset, member, position, direction, equipment_class, limit_set, limit_group,
    CASE WHEN limit_set IS NOT NULL THEN limit_edition END AS limit_edition,
    CASE WHEN limit_set IS NOT NULL THEN limit_kind END AS limit_kind,
    CASE WHEN assigned_text IS NOT NULL THEN 'hand' WHEN limit_set IS NOT NULL THEN 'rule' END
        AS chosen_by,
    CASE
        WHEN assigned_text IS NOT NULL AND limit_set IS NULL
            THEN 'limit set ' || assigned_text || ', assigned by ' || assigned_by
                || CASE WHEN limit_edition IS NULL THEN ', is not loaded'
                    WHEN NOT in_service
                    THEN ', is for information only: its values are none of a machine in service'
                    WHEN measures <> 'vibration' THEN ', says nothing of vibration'
                    WHEN wanted_group IS NULL
                    THEN ', has no group that fits by rule, and none is named'
                    WHEN valued_set IS NULL THEN ', has no group ' || wanted_group
                    ELSE ', has no values for ' || coalesce(known_support, assumed_support)
                        || ' support' END
        WHEN assigned_text IS NOT NULL
            THEN 'assigned by ' || assigned_by || ': ' || assigned_reason
                || CASE WHEN is_proxy THEN '; a proxy, since ' || limit_edition
                    || ' does not cover a ' || equipment_class ELSE '' END
        WHEN limit_set IS NULL AND valued_set IS NOT NULL
            THEN limit_edition || ' ' || valued_group || ' has no values for '
                || coalesce(known_support, assumed_support) || ' support'
        WHEN limit_set IS NULL THEN uncovered_reason
        ELSE equipment_class || ', '
            || CASE WHEN power_kw IS NULL THEN 'power not known'
                ELSE number_text(power_kw) || ' kW' END
            || CASE WHEN shaft_height_mm IS NULL THEN ''
                ELSE ', shaft height ' || number_text(shaft_height_mm) || ' mm' END
            || coalesce(', category ' || category, '')
            || coalesce(', application ' || application, '')
            || CASE WHEN assumed_pump_type IS NULL THEN ''
                WHEN type_known THEN ', ' || pump_type_words
                ELSE ', ' || assumed_pump_type END
            || CASE rule_confidence WHEN 'M'
                THEN '; that they lead to this group is from memory, not verified'
                WHEN 'V2' THEN '; that they lead to this group is from a secondary source, not '
                    || 'verified' ELSE '' END
    END AS why,
    CASE WHEN limit_set IS NOT NULL THEN coalesce(known_support, assumed_support) END AS support,
    CASE WHEN limit_set IS NOT NULL THEN nullif(concat_ws(', ',
        CASE WHEN is_proxy THEN 'proxy for a ' || equipment_class END,
        CASE WHEN support_matters AND known_support IS NULL THEN assumed_support || ' support' END,
        CASE WHEN support_matters AND direction <> 'radial' AND known_support IS NOT NULL
            AND list_contains(assumed_fields, 'support_' || direction)
            THEN known_support || ' support' END,
        -- What only leads to a group is of no matter where the group is given by hand.
        CASE WHEN NOT group_given THEN nullif(concat_ws(', ',
            CASE WHEN category_assumed OR list_contains(assumed_fields, 'pump_category')
                THEN 'category ' || category END,
            CASE WHEN application_assumed OR list_contains(assumed_fields, 'fan_application')
                THEN 'application ' || application END,
            CASE WHEN assumed_pump_type IS NOT NULL AND NOT type_known
                THEN 'pump type ' || assumed_pump_type
                WHEN assumed_pump_type IS NOT NULL AND list_contains(assumed_fields, 'pump_type')
                THEN 'pump type ' || pump_type_words END,
            CASE WHEN power_of_driver THEN 'power as its driver'
                WHEN list_contains(assumed_fields, 'rated_power_kw') THEN 'rated power' END,
            CASE WHEN list_contains(assumed_fields, 'shaft_height_mm') THEN 'shaft height' END
        ), '') END,
        CASE WHEN assumed_operating_region IS NOT NULL
            THEN assumed_operating_region || ' operating region, no flow known' END,
        CASE WHEN lowest_speed IS NULL
            THEN 'never below ' || number_text(low_speed) || ' r/min' END
    ), '') END AS assumed,
    power_kw,
    lowest_speed,
    CASE WHEN lowest_speed < low_speed OR (low_speed_inclusive AND lowest_speed = low_speed)
        THEN low_speed_band_low_hz END AS band_must_reach,
    low_speed,
    parts,
    coalesce(worse_quantity_governs, false) AS worse_quantity_governs,
    known_support
FROM settled;
