-- purpose: what the checks of a new or moved sensor look at (rule W5), one statement each
-- grain: see each statement

-- name: settings
-- Figures of the checks.
SELECT key, value FROM judging_defaults

-- name: tap
-- What each axis of a device read around a tap, and usually within a day of it.
WITH near AS (
    SELECT
        m.channel, m.axis, r.quantity, r.detector, r.band, r.value, r.unit,
        abs(epoch(r.ts - $at::TIMESTAMPTZ)) <= 60 * setting('tap_window_minutes') AS tapped
    FROM readings_current AS r
    JOIN mountings AS m
        ON m.device = r.device AND m.channel = r.channel AND r.ts >= m.mounted_from
        AND (m.mounted_to IS NULL OR r.ts < m.mounted_to)
    WHERE r.device = $device AND m.axis IS NOT NULL AND r.axis IS NOT NULL AND r.value IS NOT NULL
        AND r.ts BETWEEN $at::TIMESTAMPTZ - INTERVAL 1 DAY AND $at::TIMESTAMPTZ + INTERVAL 1 DAY
)
SELECT
    channel, any_value(axis) AS axis, quantity, detector, band, any_value(unit) AS unit,
    max(value) FILTER (tapped) AS answer, median(value) FILTER (NOT tapped) AS usual
FROM near
GROUP BY channel, quantity, detector, band
ORDER BY channel, quantity, detector, band

-- name: nearest
-- Readings of a channel near a moment, or within half its declared interval where that is more,
-- the nearest of each kind first.
SELECT quantity, detector, band, ts, value, unit
FROM readings_current
WHERE device = $device AND channel = $channel AND value IS NOT NULL
    AND ts >= $mounted_from::TIMESTAMPTZ
    AND abs(epoch(ts - $at::TIMESTAMPTZ)) <= 60 * greatest(setting('compare_window_minutes'),
        (SELECT coalesce(any_value(interval_minutes), 0) / 2 FROM devices WHERE device = $device))
QUALIFY row_number() OVER (
    PARTITION BY quantity, detector, band ORDER BY abs(epoch(ts - $at::TIMESTAMPTZ)), ts, take) = 1
ORDER BY abs(epoch(ts - $at::TIMESTAMPTZ)), quantity, detector, band

-- name: running
-- Running states of a channel's readings since it was mounted.
SELECT r.state, count(*) AS readings, max(r.ts) AS last_at
FROM running_states AS r
JOIN streams AS s ON s.stream_id = r.stream_id
WHERE s.device = $device AND s.channel = $channel AND r.ts >= $mounted_from::TIMESTAMPTZ
    AND (r.quality = 'good' OR r.reason = 'provisional-mounting')
GROUP BY r.state

-- name: interval
-- How often a channel was read since it was mounted.
WITH times AS (
    SELECT DISTINCT ts FROM readings_current
    WHERE device = $device AND channel = $channel AND ts >= $mounted_from::TIMESTAMPTZ
),
gaps AS (
    SELECT epoch(ts - lag(ts) OVER (ORDER BY ts)) / 60 AS minutes FROM times
)
SELECT
    (SELECT count(*) FROM times) AS readings, median(minutes) AS minutes, max(minutes) AS longest,
    (SELECT any_value(interval_minutes) FROM devices WHERE device = $device) AS declared
FROM gaps

-- name: first_readings
-- The first readings of each kind of a channel, with the boundaries of its place.
WITH numbered AS (
    SELECT
        *, row_number() OVER (PARTITION BY quantity, detector, band ORDER BY ts, take) AS place
    FROM readings_current
    WHERE device = $device AND channel = $channel AND ts >= $mounted_from::TIMESTAMPTZ
),
first_ones AS (
    SELECT
        site, asset, position, axis, quantity, detector, band, count(*) AS readings,
        median(value) AS value, any_value(unit) AS unit, count(DISTINCT value) AS different,
        count(*) FILTER (quality = 'bad' OR reason = 'implausible') AS unusable
    FROM numbered
    WHERE place <= setting('first_readings')
    GROUP BY ALL
),
limited AS (
    SELECT site, asset, position, axis, quantity, detector, band, min(b_c) AS b_c, max(c_d) AS c_d,
        min(to_rms) AS to_rms, min(m.equipment_class) AS equipment_class
    FROM limited_series AS l
    LEFT JOIN members AS m USING (site, asset, member)
    GROUP BY ALL
)
SELECT f.*, l.b_c / l.to_rms AS b_c, l.c_d / l.to_rms AS c_d, l.equipment_class
FROM first_ones AS f
LEFT JOIN limited AS l
    ON l.site = f.site AND l.asset = f.asset AND l.position = f.position
    AND l.axis IS NOT DISTINCT FROM f.axis AND l.quantity = f.quantity
    AND l.detector = f.detector AND l.band IS NOT DISTINCT FROM f.band
ORDER BY f.quantity, f.detector, f.band
