-- purpose: zone, or grade in the set's own words, of every velocity and displacement series by
--          its limit set, each axis alone (rules J1, J2, J5, M4, S4, R1), as if its last judged value
--          were fresh.
-- grain: one row a series that a limit set could judge, or that belongs to an unjudged machine.
-- columns: series_id, limit_set, limit_group, limit_edition, limit_confidence, limit_verified,
--          a_b, b_c, c_d (lower, middle, upper boundary of the set: unit of the series, detector
--          `judged_detector`), support, assumed, zone (null where none may be given), level, basis,
--          reason (words), since (site-local day), value (unit of the series), share_of_b_c (value
--          over the middle boundary, 1), level_if_rising, level_if_changed (what a rise, or a change
--          from the baseline, makes of it; null where it makes nothing of it), lower_name,
--          middle_name, upper_name (what the boundaries are called).
-- depends: limited_series, judged_values, held_steps, limit_step, number_text, unit_text, setting
CREATE OR REPLACE VIEW severity_zones AS
WITH valued AS (
    SELECT
        l.*, v.value, v.readings_used, v.measured_at, v.state,
        limit_step(v.value, l.a_b, l.b_c, l.c_d) AS value_step,
        CASE WHEN v.value IS NOT NULL AND l.b_c IS NOT NULL THEN h.step END AS step,
        h.since, h.repeated,
        NOT l.worse_quantity_governs AND l.quantity <> 'velocity' AND bool_or(
            l.judged_by = 'velocity') OVER (PARTITION BY l.site, l.asset, l.position, l.axis)
            AS velocity_governs,
        l.method_group = 'route' AS on_route,
        -- A band not known to reach as far as the limit's may raise, never clear.
        coalesce(l.band_low_hz > coalesce(l.band_must_reach, l.limit_low_hz), true)
            AND coalesce(l.band_must_reach, l.limit_low_hz) IS NOT NULL AS low_missing,
        coalesce(l.band_high_hz < l.limit_high_hz, true)
            AND l.limit_high_hz IS NOT NULL AS high_missing
    FROM (
        SELECT *, bool_or(judged_by IS NOT NULL) OVER (PARTITION BY site, asset, position, axis)
            AS place_has_limits
        FROM limited_series
    ) AS l
    LEFT JOIN judged_values AS v ON v.series_id = l.series_id
    LEFT JOIN held_steps AS h ON h.series_id = l.series_id
    WHERE l.limit_set IS NULL OR l.judged_by IS NOT NULL
        OR (l.parts IS NOT NULL AND l.quantity = 'velocity')
        OR NOT l.place_has_limits
),
based AS MATERIALIZED (
    SELECT
        *,
        CASE
            WHEN limit_set IS NULL THEN 'unjudged'
            WHEN judged_by IS NULL AND parts IS NOT NULL THEN 'part-unknown'
            WHEN judged_by IS NULL THEN 'unjudged'
            WHEN parts IS NULL AND (NOT bearing_housing OR (axis = 'axial' AND NOT thrust_end))
                THEN 'change-only'
            WHEN velocity_governs THEN 'for-information'
            WHEN proof_only AND step >= 3 THEN 'peak-only'
            WHEN (low_missing OR high_missing) AND step <= 2 THEN 'band-blind'
            ELSE 'severity'
        END AS basis
    FROM valued
),
worded AS (
    SELECT
        b.*, v.grade, v.level, r.level AS rising_level, c.level AS changed_level,
        CASE WHEN b.step = 1 THEN b.lower_confidence ELSE b.confidence END AS limit_confidence,
        o.lower AS lower_name, o.middle AS middle_name, o.upper AS upper_name,
        [o.lower, o.middle, o.upper] AS names, [b.a_b, b.b_c, b.c_d] AS limits,
        upper(b.quantity[1]) || b.quantity[2:] || ' ' || number_text(b.value) || ' '
            || unit_text(b.unit) || ' ' || CASE WHEN b.proof_only THEN b.detector
                ELSE b.judged_detector END
            || ' at ' || b.position || coalesce(' ' || b.axis, '') AS measured,
        b.limit_edition || ' ' || b.limit_group || ', ' || b.support || ' support'
            || coalesce('; assumed: ' || b.assumed, '') AS by_which
    FROM based AS b
    LEFT JOIN limit_boundaries AS o ON o.kind = b.limit_kind
    LEFT JOIN judging_levels AS v
        ON v.kind = b.limit_kind AND v.step = b.step AND v.basis = b.basis
    LEFT JOIN judging_levels AS r
        ON r.kind = b.limit_kind AND r.step = b.step AND r.basis = 'trend'
    LEFT JOIN judging_levels AS c
        ON c.kind = b.limit_kind AND c.step = b.step AND c.basis = 'change'
),
-- Whatever a text rests on that was not seen in a text quoting the standard, it says so.
noted AS (
    SELECT
        *,
        CASE WHEN disputed THEN '; these limit values are disputed, check the document'
            WHEN limit_confidence = 'M' THEN '; limit values from memory, not verified'
            WHEN limit_confidence NOT IN ('V1', 'own')
                THEN '; limit values from a secondary source, not verified'
            WHEN step = 2 AND lower_confidence NOT IN ('V1', 'own')
                THEN '; ' || lower_name || ' not verified'
            ELSE '' END AS unverified
    FROM worded
)
SELECT
    series_id, limit_set, limit_group, limit_edition, limit_confidence,
    limit_confidence IN ('V1', 'own') AS limit_verified,
    a_b, b_c, c_d, support, assumed,
    grade AS zone,
    coalesce(level, 'unknown') AS level,
    basis,
    CASE
        WHEN basis = 'unjudged' THEN CASE WHEN value IS NULL THEN 'Not judged: '
            ELSE measured || ' is not judged: ' END
            || CASE WHEN limit_set IS NOT NULL THEN limit_edition || ' ' || limit_group
                    || ' has no limit of ' || quantity || ' ' || judged_detector
                    || CASE WHEN lowest_speed IS NULL THEN ''
                        ELSE ' at ' || number_text(lowest_speed) || ' r/min' END
                ELSE coalesce(why, 'the point belongs to no registered machine') END
        WHEN basis = 'part-unknown' THEN CASE WHEN value IS NULL THEN 'Not judged: '
            ELSE measured || ' is not judged: ' END || limit_edition || ' goes by the part of the '
            || 'machine (' || parts || '), and the point states none'
        WHEN basis = 'change-only' AND NOT bearing_housing
            THEN measured || ' has no zone: the point is no bearing housing'
        WHEN basis = 'change-only'
            THEN measured || ' has no zone: axial zones apply at thrust bearings only'
        WHEN value IS NULL THEN 'No steady reading to judge'
        WHEN basis = 'for-information' THEN measured || ' against ' || middle_name || ' '
            || number_text(b_c) || ' ' || unit_text(unit) || ' (' || by_which
            || '), for information: velocity governs here' || unverified
        WHEN basis = 'peak-only' THEN measured || ' is above ' || middle_name || ' '
            || number_text(b_c) || ' ' || unit_text(unit) || ' rms (' || by_which
            || '): a peak proves nothing there' || unverified
        WHEN basis = 'band-blind' AND low_missing AND band_must_reach IS NOT NULL
            THEN measured || ' in ' || coalesce(band, 'a band not stated') || ' cannot show '
            || CASE WHEN limit_kind = 'zones' THEN 'zone A or B' ELSE 'health' END
            || ': the shaft can turn at ' || number_text(lowest_speed)
            || ' r/min and the band must start at ' || number_text(band_must_reach) || ' Hz'
        WHEN basis = 'band-blind' THEN measured || ' in ' || coalesce(band, 'a band not stated')
            || ' cannot show '
            || CASE WHEN limit_kind = 'zones' THEN 'zone A or B' ELSE 'health' END
            || ': the band must cover ' || number_text(limit_low_hz)
            || ' to ' || number_text(limit_high_hz) || ' Hz'
        ELSE measured
            || CASE
                WHEN limit_kind NOT IN ('zones', 'zones-a-b-merged')
                    THEN CASE WHEN proof_only THEN ' proves to be at worst ' ELSE ' is ' END
                WHEN proof_only THEN ' proves at worst zone ' || grade || ': '
                WHEN value_step < step THEN ' is held in zone ' || grade || ': '
                ELSE ' is in zone ' || grade || ': ' END
            || CASE
                WHEN value_step < step THEN 'it was above ' || names[step - 1] || ' '
                    || number_text(limits[step - 1]) || ' and has not settled below '
                    || number_text(setting('exit_share') * limits[step - 1])
                WHEN value_step > step THEN 'above ' || names[step] || ' '
                    || number_text(limits[step])
                WHEN step = 4 THEN 'above ' || upper_name || ' ' || number_text(c_d)
                WHEN step = 3 THEN 'above ' || middle_name || ' ' || number_text(b_c)
                    || coalesce(', not above ' || upper_name || ' '
                        || CASE WHEN c_d IS NOT NULL THEN number_text(c_d) END, '')
                WHEN step = 1 THEN 'not above ' || lower_name || ' ' || number_text(a_b)
                WHEN a_b IS NULL THEN 'not above ' || middle_name || ' ' || number_text(b_c)
                ELSE 'above ' || lower_name || ' ' || number_text(a_b) || ', not above '
                    || middle_name || ' ' || number_text(b_c) END
            || ' ' || unit_text(unit)
            || CASE WHEN value_step > step THEN ', which has not lasted yet' ELSE '' END
            || ' (' || by_which || ')'
            || CASE WHEN proof_only THEN '; provisional, confirm as rms' ELSE '' END
            || CASE WHEN on_route AND step >= 3 AND NOT repeated
                THEN '; one route reading, unconfirmed' ELSE '' END
            || CASE WHEN state = 'unknown' THEN '; running is not proven' ELSE '' END
            || unverified
    END AS reason,
    since,
    value,
    value / b_c AS share_of_b_c,
    CASE WHEN basis = 'severity' AND NOT proof_only THEN rising_level END AS level_if_rising,
    CASE WHEN basis = 'severity' AND NOT proof_only THEN changed_level END AS level_if_changed,
    lower_name, middle_name, upper_name
FROM noted;
