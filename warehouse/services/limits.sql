-- purpose: what `mcw limits` shows of the limit sets of a store
-- grain: stands at each statement

-- name: listed
-- one row a set; confidences of its values, and the classes of machine it applies to
WITH confidences AS (
    SELECT limit_set, confidence FROM limit_rows
    UNION ALL SELECT limit_set, lower_confidence FROM limit_rows WHERE lower IS NOT NULL
    UNION ALL SELECT limit_set, confidence FROM limit_acceptance
),
confirmed AS (
    SELECT limit_set, string_agg(DISTINCT confidence, ', ' ORDER BY confidence DESC) AS confidences
    FROM confidences GROUP BY limit_set
),
takes AS (
    SELECT
        limit_set, bool_and(by_hand) AS by_hand,
        string_agg(DISTINCT equipment_class, ', ' ORDER BY equipment_class) AS applies_to
    FROM limit_groups GROUP BY limit_set
),
values_of AS (
    SELECT limit_set, bool_or(disputed) AS disputed FROM limit_rows GROUP BY limit_set
)
SELECT
    s.limit_set, s.standard, s.edition, s.title, s.status, s.kind, s.measures, s.origin,
    s.precedence,
    CASE
        WHEN s.precedence IS NOT NULL THEN 'in force'
        WHEN NOT s.in_service THEN 'never in service'
        WHEN t.by_hand THEN 'by hand'
        ELSE 'for information'
    END AS used,
    t.applies_to, c.confidences, coalesce(v.disputed, false) AS disputed, s.note,
    s.worse_quantity_governs, s.assumed_support, s.assumed_pump_category, s.assumed_pump_type,
    s.assumed_fan_application, s.assumed_operating_region, s.scope_power_over_kw,
    s.scope_power_up_to_kw, s.scope_speed_from, s.scope_speed_up_to, s.scope_vanes_from,
    s.scope_source, s.scope_confidence, s.low_speed, s.low_speed_inclusive,
    s.low_speed_band_low_hz, s.low_speed_source, s.low_speed_confidence
FROM limit_sets AS s
LEFT JOIN confirmed AS c ON c.limit_set = s.limit_set
LEFT JOIN takes AS t ON t.limit_set = s.limit_set
LEFT JOIN values_of AS v ON v.limit_set = s.limit_set
ORDER BY s.precedence NULLS LAST, s.in_service DESC, s.origin, s.limit_set

-- name: groups
-- one row a group and block of the set, in the order in which the first that fits counts
SELECT
    "group" AS limit_group, by_hand,
    string_agg(equipment_class, ', ' ORDER BY equipment_class) AS equipment_classes,
    power_over_kw, power_up_to_kw, shaft_height_from_mm, shaft_height_below_mm, pump_category,
    pump_types, fan_application, confidence, source
FROM limit_groups
WHERE limit_set = $limit_set
GROUP BY ALL
ORDER BY min(precedence)

-- name: rows
-- one row a group, part, quantity and boundaries; supports that share them stand together
SELECT
    r."group" AS limit_group, string_agg(r.support, ', ' ORDER BY r.support DESC) AS supports,
    r.part, r.quantity, r.detector, r.reference, r.unit, r.speed_over, r.speed_up_to,
    r.band_low_hz, r.band_high_hz,
    b.lower AS lower_name, r.lower, b.middle AS middle_name, r.middle, b.upper AS upper_name,
    r.upper, r.alarm_setting, r.trip_setting, r.peak_lower, r.peak_middle, r.peak_upper,
    r.confidence, r.lower_confidence, r.verified, r.disputed, r.note, r.clause, r.source
FROM limit_rows AS r
JOIN limit_sets AS s ON s.limit_set = r.limit_set
JOIN limit_boundaries AS b ON b.kind = s.kind
WHERE r.limit_set = $limit_set
GROUP BY ALL
ORDER BY limit_group, supports DESC, part, quantity DESC, reference

-- name: acceptance
-- one row an acceptance value, shown and never used in service
SELECT
    "group" AS limit_group, place, operating_region, mounting, quantity, detector, unit,
    speed_up_to, value, confidence, verified, note, source
FROM limit_acceptance
WHERE limit_set = $limit_set
ORDER BY limit_group, place DESC, quantity DESC, operating_region DESC, mounting

-- name: assigned_in_vain
-- one row a machine, or point, to which a set is assigned, now or later, that cannot be used
WITH stated AS (
    SELECT
        *, split_part(limit_set, '/', 1) AS of_set,
        coalesce(limit_group, nullif(split_part(limit_set, '/', 2), '')) AS of_group
    FROM limit_assignments
    WHERE assigned_to IS NULL OR assigned_to > CAST(getvariable('as_of') AS TIMESTAMPTZ)
),
faults AS (
    SELECT site, asset, member, position, why
    FROM members_limits
    WHERE chosen_by = 'hand' AND limit_set IS NULL
    UNION
    SELECT
        a.site, a.asset, a.member, a.position,
        'limit set ' || a.of_set || coalesce('/' || a.of_group, '') || ', assigned by '
            || a.assigned_by || ' from ' || time_text(a.assigned_from) || ', '
            || CASE WHEN s.limit_set IS NULL THEN 'is not loaded'
                WHEN NOT s.in_service THEN 'is for information only: its values are none of a '
                    || 'machine in service'
                ELSE 'has no group ' || a.of_group END
    FROM stated AS a
    LEFT JOIN limit_sets AS s ON s.limit_set = a.of_set
    WHERE a.assigned_from > CAST(getvariable('as_of') AS TIMESTAMPTZ)
        AND (s.limit_set IS NULL OR NOT s.in_service OR (a.of_group IS NOT NULL AND NOT EXISTS (
            SELECT 1 FROM limit_rows AS r
            WHERE r.limit_set = a.of_set AND r."group" = a.of_group)))
    UNION
    SELECT
        a.site, a.asset, a.member, a.position,
        'limit set ' || a.limit_set || ', assigned by ' || a.assigned_by
            || ': the point does not sit on this member any more'
    FROM stated AS a
    LEFT JOIN points AS p
        ON p.site = a.site AND p.asset = a.asset AND p.position = a.position
        AND p.member = a.member
    WHERE a.position IS NOT NULL AND p.position IS NULL
)
SELECT DISTINCT 'limit_assignments: ' || site || '/' || asset || '/' || member
    || coalesce('/' || position, '') || ': ' || why AS fault
FROM faults
ORDER BY fault

-- name: machines
-- one row a member, or point with an assignment of its own, and set it gets; directions together
SELECT
    l.site, l.asset, l.member, l.position, l.equipment_class, l.power_kw, l.limit_set,
    l.limit_group, l.limit_edition, l.chosen_by, l.why, l.support, l.assumed,
    string_agg(l.direction, ', ' ORDER BY l.direction) AS directions
FROM members_limits AS l
JOIN assets AS a ON a.site = l.site AND a.asset = l.asset AND a.service_state <> 'removed'
GROUP BY ALL
ORDER BY l.site, l.asset, l.member, l.position NULLS FIRST, directions

-- name: unjudged
-- one row a machine, or point, that no limit set judges
SELECT * FROM unjudged_machines ORDER BY site, asset, member, position NULLS FIRST

-- name: information
-- one row a series and limit set that fits its machine and is not in force
SELECT * FROM limits_for_information
ORDER BY site, asset, member, position, axis NULLS FIRST, quantity, detector, limit_set
