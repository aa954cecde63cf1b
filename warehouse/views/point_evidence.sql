-- purpose: what each series says about its point now, after freshness, standstill and doubt
--          (rules J6, J9): the candidates among which point_conditions chooses.
-- grain: one row a series of vibration.
-- columns: series_id, place (site, asset, member, position, axis), quantity, detector, band,
--          method_group, unit, limit columns as in severity_zones, level, zone, basis, reason,
--          value (in `unit`), state, measured_at, stale_after (UTC), since (site-local day),
--          last_level, held_since (UTC: standstill, or the last trusted reading; null where it is
--          measured), baseline, boundary_watch, boundary_alert (of a change; in `unit`), seen (fresh
--          and trusted), compared (against a baseline), the columns of trends with `trend_` before their names, operating_bin
--          (words), distrust (words), share_of_b_c (1), background (words: what shakes it at rest).
-- depends: series, severity_zones, background_vibration, hf_change, temperature_change, held_changes, judged_values, latest_readings, asset_running, restored_series, trends, trust_doubts, number_text, unit_text, time_text, setting
-- materialise: yes
CREATE OR REPLACE VIEW point_evidence AS
WITH said AS (
    SELECT
        series_id, limit_set, limit_group, limit_edition, limit_confidence, limit_verified,
        a_b, b_c, c_d, support, assumed, zone, level, basis, reason, since, share_of_b_c,
        level_if_rising, level_if_changed
    FROM severity_zones
    UNION ALL BY NAME
    SELECT series_id, level, basis, reason, since
    FROM hf_change
    UNION ALL BY NAME
    SELECT series_id, level, basis, reason, since
    FROM temperature_change
),
-- Where every sensor that ever sat there was taken off: what was read by hand is none of it.
bare AS (
    SELECT site, asset, position, max(mounted_to) AS bare_since
    FROM mountings
    WHERE mounted_from <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
    GROUP BY ALL
    HAVING bool_and(coalesce(mounted_to <= CAST(getvariable('as_of') AS TIMESTAMPTZ), false))
),
doubts AS (
    SELECT series_id, check_code, arg_max(evidence, since) AS evidence
    FROM trust_doubts
    GROUP BY ALL
),
joined AS (
    SELECT
        s.site, s.asset, s.member, s.position, s.axis, s.quantity, s.judged_detector AS detector,
        s.band, s.method_group, s.unit, e.*, v.value, v.state, v.measured_at,
        g.reason AS background, coalesce(g.warned, false) AS shaken,
        l.ts AS latest_at, l.value AS latest_value, l.doubt, l.doubted_now,
        coalesce(r.at_rest AND (v.measured_at IS NULL OR r.rest_known_at > v.measured_at), false)
            AS at_rest,
        r.rest_basis, r.rest_since, r.rest_stale_after,
        v.stale_after AS reading_stale_after,
        CASE WHEN s.method_group <> 'route' AND l.ts <= o.bare_since THEN o.bare_since END
            AS bare_since,
        w.restored_at, w.activity || ' (' || w.work_id || ')' AS restored_by,
        COLUMNS(t.* EXCLUDE (series_id, operating_bin)) AS 'trend_\0', t.operating_bin,
        -- A rise or a change alone makes a watch of zone B and of no other (rule J2).
        e.level_if_rising IS NOT NULL AND coalesce(t.state = 'rising', false) AS rises,
        e.level_if_changed IS NOT NULL AND coalesce(h.step > 1, false) AS has_changed,
        h.since AS changed_since, h.baseline * s.to_rms AS baseline, h.baseline_first_day,
        h.baseline_last_day,
        coalesce(h.bin = h.bin_now, false) AS compared,
        coalesce(CAST(getvariable('as_of') AS TIMESTAMPTZ) < v.stale_after
            AND NOT l.doubted_now, false) AS seen,
        -- Of a rise and the backstop of a temperature the one that is reached first.
        least(h.watch_value, b.watch_value) * s.to_rms AS boundary_watch,
        least(h.alert_value, b.alert_value) * s.to_rms AS boundary_alert,
        -- What cannot be believed is not danger, but it is not to be waited for either (rule J6).
        coalesce(l.doubt = 'over-range' OR l.doubt <> 'provisional-mounting'
            AND l.value * s.to_rms > e.b_c, false) AS high_if_true,
        CASE
            WHEN l.doubt IS NULL THEN NULL
            WHEN l.doubt = 'stopped-or-loose' THEN 'stopped or loose, cannot tell: the latest '
                || s.quantity || ' ' || number_text(l.value) || ' ' || unit_text(s.unit)
                || ' is far below its own history and nothing proves running'
            WHEN l.doubt = 'provisional-mounting' THEN 'the mounting has not passed its '
                || 'commissioning checks; the latest ' || s.quantity || ' '
                || number_text(l.value) || ' ' || unit_text(s.unit) || ' is shown, not judged'
            WHEN l.doubt = 'over-range'
                THEN 'the latest ' || s.quantity || ' is beyond the measuring range: verify'
            WHEN d.evidence IS NOT NULL THEN 'the latest ' || s.quantity || ' '
                || number_text(l.value) || ' ' || unit_text(s.unit) || ' is doubted as '
                || l.doubt || ': ' || d.evidence
            ELSE 'the latest ' || s.quantity || ' is marked ' || l.doubt
        END AS distrust
    FROM said AS e
    JOIN series AS s ON s.series_id = e.series_id
    LEFT JOIN judged_values AS v ON v.series_id = e.series_id
    LEFT JOIN latest_readings AS l ON l.series_id = e.series_id
    LEFT JOIN asset_running AS r ON r.site = s.site AND r.asset = s.asset
    LEFT JOIN restored_series AS w ON w.series_id = e.series_id
    LEFT JOIN trends AS t ON t.series_id = e.series_id
    LEFT JOIN held_changes AS h ON h.series_id = e.series_id
        AND h.basis IN ('change', 'hf-change', 'temperature-rise')
    LEFT JOIN held_changes AS b ON b.series_id = e.series_id AND b.basis = 'temperature'
    LEFT JOIN background_vibration AS g ON g.series_id = e.series_id
    LEFT JOIN bare AS o
        ON o.site = s.site AND o.asset = s.asset AND o.position = s.position
    LEFT JOIN doubts AS d ON d.series_id = e.series_id AND d.check_code = l.doubt
),
raised AS (
    SELECT * EXCLUDE (rises, has_changed, level_if_rising, level_if_changed, changed_since) REPLACE (
        CASE WHEN rises THEN level_if_rising WHEN has_changed THEN level_if_changed
            ELSE level END AS level,
        CASE WHEN rises THEN 'trend' WHEN has_changed THEN 'change' ELSE basis END AS basis,
        CASE WHEN has_changed AND NOT rises THEN changed_since ELSE since END AS since,
        reason || CASE WHEN has_changed THEN '; held more than '
                || number_text(100 * setting('change_share')) || ' % of B/C above its baseline of '
                || number_text(baseline) || ' (' || baseline_first_day || ' to '
                || baseline_last_day || ')' ELSE '' END
            || CASE WHEN zone IS NOT NULL
            AND (trend_state = 'rising' OR trend_step_on IS NOT NULL)
            THEN '; ' || trend_reason ELSE '' END AS reason)
    FROM joined
),
standing AS (
    SELECT
        *,
        CASE
            WHEN basis IN ('unjudged', 'part-unknown', 'for-information', 'change-only')
                AND level = 'unknown'
                AND measured_at IS NOT NULL
                AND CAST(getvariable('as_of') AS TIMESTAMPTZ) < reading_stale_after THEN 'as-said'
            WHEN basis IN ('unjudged', 'part-unknown') THEN 'as-said'
            WHEN restored_at > measured_at THEN 'restored'
            WHEN at_rest THEN 'at-rest'
            -- A doubted reading clears nothing and never shows health: what was bad is held for as
            -- long as a trusted reading holds, unless the doubted one would be worse than a watch.
            WHEN doubted_now AND level IN ('alert', 'danger')
                AND CAST(getvariable('as_of') AS TIMESTAMPTZ) < reading_stale_after THEN 'held'
            WHEN doubted_now AND level = 'watch' AND NOT high_if_true
                AND CAST(getvariable('as_of') AS TIMESTAMPTZ) < reading_stale_after THEN 'held'
            WHEN doubted_now THEN 'doubted'
            WHEN measured_at IS NULL
                OR CAST(getvariable('as_of') AS TIMESTAMPTZ) >= reading_stale_after THEN 'silent'
            ELSE 'as-said'
        END AS standing
    FROM raised
),
-- What shakes a machine at rest may raise what is told of it, and never clears anything.
shaken AS (
    SELECT
        * EXCLUDE (background, shaken),
        CASE WHEN standing = 'at-rest' THEN background END AS background,
        CASE WHEN standing = 'at-rest' AND shaken AND level IN ('normal', 'unknown') THEN (
            SELECT level FROM judging_levels
            WHERE kind = 'change' AND basis = 'background' AND step = 2) END AS level_if_shaken
    FROM standing
)
SELECT
    series_id, site, asset, member, position, axis, quantity, detector, band, method_group, unit,
    limit_set, limit_group, limit_edition, limit_confidence, limit_verified, a_b, b_c, c_d,
    support, assumed,
    CASE WHEN standing IN ('as-said', 'held', 'at-rest') THEN coalesce(level_if_shaken, level)
        ELSE 'unknown' END AS level,
    CASE WHEN standing IN ('as-said', 'held', 'at-rest') THEN zone END AS zone,
    CASE standing
        WHEN 'at-rest' THEN CASE WHEN level_if_shaken IS NOT NULL THEN 'background'
            ELSE rest_basis END
        WHEN 'doubted' THEN CASE WHEN high_if_true THEN 'verify'
            WHEN doubt = 'stopped-or-loose' THEN doubt
            ELSE 'distrusted' END
        WHEN 'silent' THEN 'no-fresh-reading'
        WHEN 'restored' THEN 'no-fresh-reading'
        ELSE basis
    END AS basis,
    CASE standing
        WHEN 'at-rest' THEN CASE WHEN rest_basis = 'laid-up' THEN 'Laid up'
            ELSE 'Stopped since ' || time_text(rest_since) END
            || CASE WHEN measured_at IS NULL THEN ' and never judged while running'
                ELSE '; last judged at ' || time_text(measured_at) || ': ' || reason END
            || coalesce('; ' || background, '')
        WHEN 'doubted' THEN upper(distrust[1]) || distrust[2:]
            || CASE WHEN NOT high_if_true THEN '' WHEN latest_value IS NULL THEN ''
                ELSE '; verify: if true it is above B/C ' || number_text(b_c)
                    || CASE WHEN limit_verified THEN '' ELSE ', not verified' END END
            || CASE WHEN measured_at IS NULL THEN ''
                ELSE '; before that, at ' || time_text(measured_at) || ': ' || reason END
        WHEN 'silent' THEN CASE
            WHEN measured_at IS NULL THEN 'No steady reading yet at ' || position
                || coalesce(' ' || axis, '') || '; latest reading of any kind at '
                || time_text(latest_at)
            ELSE 'No judgeable reading since ' || time_text(measured_at)
                || CASE WHEN bare_since IS NULL THEN '' ELSE '; its sensor was taken off at '
                    || time_text(bare_since) || ' and none is there now' END
                || '; last told: ' || reason END
        WHEN 'restored' THEN 'No judgeable reading since restoring work, ' || restored_by
            || ', ended at ' || time_text(restored_at) || '; before it, at '
            || time_text(measured_at) || ': ' || reason
        WHEN 'held' THEN reason || '; held since ' || time_text(measured_at) || ': ' || distrust
            || CASE WHEN high_if_true THEN '; verify' ELSE '' END
        ELSE reason
    END || '.' AS reason,
    value, state, measured_at,
    CASE WHEN standing = 'at-rest' THEN rest_stale_after ELSE reading_stale_after END
        AS stale_after,
    CASE
        WHEN standing IN ('as-said', 'held', 'at-rest') THEN since
        WHEN standing = 'silent' THEN CAST(reading_stale_after AS DATE)
        WHEN standing = 'restored' THEN CAST(restored_at AS DATE)
    END AS since,
    CASE WHEN standing IN ('doubted', 'silent') AND level <> 'unknown' THEN level END
        AS last_level,
    CASE
        WHEN standing = 'at-rest' AND measured_at IS NOT NULL
            THEN greatest(rest_since, measured_at)
        WHEN standing IN ('held', 'doubted', 'silent') THEN measured_at
    END AS held_since,
    CASE WHEN value IS NOT NULL THEN baseline END AS baseline, boundary_watch, boundary_alert,
    seen, compared,
    COLUMNS('^trend_'), operating_bin, distrust, share_of_b_c, background
FROM shaken;
