-- purpose: what the judgement of one machine train rests on, at one moment
-- grain: stands at each statement; `series_id` joins them, numbers of one session only

-- name: series
-- one row a series of the train, with what each step made of it
SELECT
    e.series_id, s AS series, e AS evidence, v AS judged, l AS latest, d AS limits, z AS severity,
    h AS step, w.missing AS baseline_missing,
    level_rank(e.level, e.last_level, e.basis) AS rank, basis_rank(e.basis) AS basis_rank,
    e.series_id IN (SELECT series_id FROM answered_evidence) AS answered,
    (
        SELECT string_agg(DISTINCT r.source, '; ' ORDER BY r.source) FROM limit_rows AS r
        WHERE r.limit_set = d.limit_set AND r."group" = d.limit_group
            AND r.quantity = d.judged_by AND r.support = d.support
    ) AS limit_source
FROM point_evidence AS e
JOIN series AS s ON s.series_id = e.series_id
LEFT JOIN judged_values AS v ON v.series_id = e.series_id
LEFT JOIN latest_readings AS l ON l.series_id = e.series_id
LEFT JOIN limited_series AS d ON d.series_id = e.series_id
LEFT JOIN severity_zones AS z ON z.series_id = e.series_id
LEFT JOIN held_steps AS h ON h.series_id = e.series_id
LEFT JOIN baseline_words AS w ON w.series_id = e.series_id
WHERE e.site = $site AND e.asset = $asset
ORDER BY s.position, s.axis NULLS FIRST, s.quantity, s.detector, s.band NULLS FIRST,
    s.method_group

-- name: readings
-- the last readings of each series, oldest first, with what has lasted until then
SELECT series_id, ts, value, state, speed, doubt, usable, epoch, sustained, settled, twice
FROM readings_persistent
WHERE list_contains($series, series_id)
QUALIFY row_number() OVER (PARTITION BY series_id ORDER BY ts DESC, value DESC) <= 8
ORDER BY series_id, ts, value

-- name: days
-- one row a series: what its readings of the last 30 days were, and the bin of the newest day
SELECT
    d.series_id,
    sum(d.readings)::BIGINT AS readings, sum(d.judged)::BIGINT AS judged,
    sum(d.unproven)::BIGINT AS unproven, sum(d.transient)::BIGINT AS transient,
    sum(d.stopped)::BIGINT AS stopped, sum(d.distrusted)::BIGINT AS distrusted,
    bin_text(arg_max_null(d.bin, d.day) FILTER (d.judged > 0), any_value(r.reference_speed)) AS bin
FROM daily_statistics AS d
JOIN series AS s ON s.series_id = d.series_id
JOIN bin_references AS r ON r.site = s.site AND r.asset = s.asset
WHERE list_contains($series, d.series_id)
    AND d.day > CAST(CAST(getvariable('as_of') AS TIMESTAMPTZ) AS DATE) - 30
GROUP BY d.series_id
ORDER BY d.series_id

-- name: boundaries
-- one row a boundary that readings are held against, and whether it is held as exceeded
SELECT b.*, h.since, h.repeated, bin_text(b.bin, r.reference_speed) AS bin_words
FROM judged_boundaries AS b
JOIN series AS s ON s.series_id = b.series_id
JOIN bin_references AS r ON r.site = s.site AND r.asset = s.asset
LEFT JOIN held_boundaries AS h
    ON h.series_id = b.series_id AND h.basis = b.basis AND h.boundary = b.boundary
    AND h.bin IS NOT DISTINCT FROM b.bin
WHERE list_contains($series, b.series_id)
ORDER BY b.series_id, b.basis DESC, b.bin NULLS FIRST, b.boundary

-- name: baselines
-- one row a series and operating bin
SELECT b.*, bin_text(b.bin, r.reference_speed) AS bin_words
FROM baselines AS b
JOIN series AS s ON s.series_id = b.series_id
JOIN bin_references AS r ON r.site = s.site AND r.asset = s.asset
WHERE list_contains($series, b.series_id)
ORDER BY b.series_id, b.bin

-- name: windows
-- one row a series and window of the trend
SELECT w.* EXCLUDE (first_place, last_place)
FROM trend_windows AS w
WHERE list_contains($series, w.series_id)
ORDER BY w.series_id, w.window_days

-- name: findings
-- one row a finding of a trust check on the train
SELECT check_code, effect, position, axis, quantity, device, channel, since, until, evidence
FROM trust_findings
WHERE site = $site AND asset = $asset AND until IS NULL
ORDER BY position NULLS FIRST, axis NULLS FIRST, check_code, device, channel NULLS FIRST,
    quantity NULLS FIRST, since NULLS FIRST

-- name: running
-- one row: is the train at rest now, and how is that known
SELECT r.*, b.reference_speed, b.variable
FROM asset_running AS r
JOIN bin_references AS b ON b.site = r.site AND b.asset = r.asset
WHERE r.site = $site AND r.asset = $asset
