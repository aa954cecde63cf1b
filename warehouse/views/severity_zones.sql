-- purpose: zone of every velocity and displacement series by its limit set, each axis alone
--          (rules J1, J2, M4, S4, R1), as if its last judged value were fresh.
-- grain: one row a series that a limit set could judge, or that belongs to an unjudged machine.
-- columns: series_id, limit_set, limit_group, limit_edition, limit_confidence, limit_verified,
--          a_b, b_c, c_d (unit of the series, detector `judged_detector`), support, assumed,
--          zone (null where none may be given), level, basis, reason (words), since (site-local
--          day), value (unit of the series), share_of_b_c (value over B/C, 1), level_if_rising
--          (what a rise makes of it; null where it makes nothing of it), lower_name, middle_name,
--          upper_name (what the boundaries are called).
-- depends: series, judged_values, members_limits, daily_statistics, zone_of, number_text, unit_text
CREATE OR REPLACE VIEW severity_zones AS
WITH daily AS MATERIALIZED (
    SELECT series_id, day, median FROM daily_statistics WHERE median IS NOT NULL
),
limited AS (
    SELECT
        s.*, m.limit_set, m.limit_group, m.limit_edition, m.support, m.assumed, m.why,
        m.lowest_speed, m.band_must_reach, m.low_speed,
        w.confidence AS limit_confidence, w.verified AS limit_verified, w.a_b, w.b_c, w.c_d,
        w.band_low_hz AS limit_low_hz, w.band_high_hz AS limit_high_hz, w.quantity AS judged_by
    FROM series AS s
    LEFT JOIN members_limits AS m
        ON m.site = s.site AND m.asset = s.asset AND m.member = s.member
        AND m.direction = s.direction
    LEFT JOIN limit_rows AS w
        ON w.limit_set = m.limit_set AND w."group" = m.limit_group AND w.support = m.support
        AND w.quantity = s.quantity AND w.detector = s.judged_detector
        AND (w.speed_up_to IS NULL OR m.lowest_speed <= w.speed_up_to)
    WHERE s.quantity IN ('velocity', 'displacement') AND s.feature = 'overall'
        AND s.detector IN ('rms', 'derived-peak', 'peak', 'peak-unspecified', 'peak-to-peak',
            'derived-peak-to-peak')
),
valued AS (
    SELECT
        l.*, v.value, v.readings_used, v.measured_at, v.state,
        zone_of(v.value, l.a_b, l.b_c, l.c_d) AS raw_zone,
        l.method_group = 'route' AS on_route,
        -- A band not known to reach as far as the limit's may raise, never clear.
        coalesce(l.band_low_hz > coalesce(l.band_must_reach, l.limit_low_hz), true)
            AND l.limit_low_hz IS NOT NULL AS low_missing,
        coalesce(l.band_high_hz < l.limit_high_hz, true)
            AND l.limit_high_hz IS NOT NULL AS high_missing
    FROM limited AS l
    LEFT JOIN judged_values AS v ON v.series_id = l.series_id
    WHERE l.limit_set IS NULL OR l.judged_by IS NOT NULL
),
based AS MATERIALIZED (
    SELECT
        *,
        CASE
            WHEN limit_set IS NULL THEN 'unjudged'
            WHEN NOT bearing_housing OR (axis = 'axial' AND NOT thrust_end) THEN 'change-only'
            WHEN proof_only AND raw_zone IN ('C', 'D') THEN 'peak-only'
            WHEN (low_missing OR high_missing) AND raw_zone IN ('A', 'B') THEN 'band-blind'
            ELSE 'severity'
        END AS basis
    FROM valued
),
runs AS (
    SELECT
        z.series_id,
        max(d.day) FILTER (WHERE zone_of(d.median * z.to_rms, z.a_b, z.b_c, z.c_d) < z.raw_zone)
            AS last_better,
        min(d.day) AS first_day
    FROM based AS z
    JOIN daily AS d ON d.series_id = z.series_id
    WHERE z.raw_zone IS NOT NULL
    GROUP BY z.series_id
),
since AS (
    SELECT r.series_id, coalesce(min(d.day), any_value(r.last_better)) AS since
    FROM runs AS r
    LEFT JOIN daily AS d
        ON d.series_id = r.series_id AND d.day > coalesce(r.last_better, r.first_day - 1)
    GROUP BY r.series_id
),
worded AS (
    SELECT
        b.*, n.since,
        upper(b.quantity[1]) || b.quantity[2:] || ' ' || number_text(b.value) || ' '
            || unit_text(b.unit) || ' ' || CASE WHEN b.proof_only THEN b.detector
                ELSE b.judged_detector END
            || ' at ' || b.position || coalesce(' ' || b.axis, '') AS measured,
        b.limit_edition || ' ' || b.limit_group || ', ' || b.support || ' support' AS by_which
    FROM based AS b
    LEFT JOIN since AS n ON n.series_id = b.series_id
)
SELECT
    series_id, limit_set, limit_group, limit_edition, limit_confidence, limit_verified,
    a_b, b_c, c_d, support, assumed,
    CASE WHEN basis = 'severity' THEN raw_zone END AS zone,
    CASE
        WHEN basis <> 'severity' OR raw_zone IS NULL THEN 'unknown'
        WHEN raw_zone IN ('A', 'B') THEN 'normal'
        WHEN raw_zone = 'C' THEN 'alert'
        ELSE 'danger'
    END AS level,
    basis,
    CASE
        WHEN basis = 'unjudged' THEN CASE WHEN value IS NULL THEN 'Not judged: '
            ELSE measured || ' is not judged: ' END
            || coalesce(why, 'the point belongs to no registered machine')
        WHEN basis = 'change-only' AND NOT bearing_housing
            THEN measured || ' has no zone: the point is no bearing housing'
        WHEN basis = 'change-only'
            THEN measured || ' has no zone: axial zones apply at thrust bearings only'
        WHEN value IS NULL THEN 'No steady reading to judge'
        WHEN basis = 'peak-only' THEN measured || ' is above B/C ' || number_text(b_c) || ' '
            || unit_text(unit) || ' rms (' || by_which || '): a peak proves nothing there'
        WHEN basis = 'band-blind' AND low_missing AND band_must_reach IS NOT NULL
            THEN measured || ' in ' || coalesce(band, 'a band not stated')
            || ' cannot show zone A or B: the shaft can turn at ' || number_text(lowest_speed)
            || ' r/min and the band must start at ' || number_text(band_must_reach) || ' Hz'
        WHEN basis = 'band-blind' THEN measured || ' in ' || coalesce(band, 'a band not stated')
            || ' cannot show zone A or B: the band must cover ' || number_text(limit_low_hz)
            || ' to ' || number_text(limit_high_hz) || ' Hz'
        ELSE measured
            || CASE WHEN proof_only THEN ' proves at worst zone ' ELSE ' is in zone ' END
            || raw_zone || ': '
            || CASE raw_zone
                WHEN 'A' THEN 'not above A/B ' || number_text(a_b)
                WHEN 'B' THEN 'above A/B ' || number_text(a_b) || ', not above B/C '
                    || number_text(b_c)
                WHEN 'C' THEN 'above B/C ' || number_text(b_c) || ', not above C/D '
                    || number_text(c_d)
                ELSE 'above C/D ' || number_text(c_d) END
            || ' ' || unit_text(unit) || ' (' || by_which || ')'
            || CASE WHEN proof_only THEN '; provisional, confirm as rms' ELSE '' END
            || CASE WHEN on_route AND raw_zone IN ('C', 'D')
                THEN '; one route reading, unconfirmed' ELSE '' END
            || CASE WHEN state = 'unknown' THEN '; running is not proven' ELSE '' END
    END AS reason,
    since,
    value,
    value / b_c AS share_of_b_c,
    CASE WHEN basis = 'severity' AND raw_zone = 'B' AND NOT proof_only THEN 'watch' END
        AS level_if_rising,
    'A/B' AS lower_name,
    'B/C' AS middle_name,
    'C/D' AS upper_name
FROM worded;
