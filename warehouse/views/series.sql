-- purpose: every trend line (rule R3) with what the registry says about its place.
-- grain: one row a series: place, quantity, detector, band, feature, method group.
-- columns: series_id (made of the series key, the same every time), the series key, unit (UCUM), readings (count),
--          first_ts, last_ts (UTC), member, shaft, bearing_housing, thrust_end, part, direction
--          (axial, horizontal, vertical, radial), band_low_hz, band_high_hz (Hz),
--          to_rms (factor to rms, rule R1), judged_detector, proof_only (true peaks),
--          fresh_hours (how long a reading holds, h), time_zone, baseline_from (UTC).
-- depends: readings_current, method_group_of, setting
-- materialise: yes
-- kept: site, asset
CREATE OR REPLACE VIEW series AS
WITH found AS (
    SELECT
        site, asset, position, axis, quantity, detector, band, feature,
        method_group_of(method) AS method_group,
        min(unit) AS unit, count(*) AS readings, min(ts) AS first_ts, max(ts) AS last_ts
    FROM readings_current
    GROUP BY ALL
),
intervals AS (
    SELECT site, asset, position, min(interval_days) AS interval_days
    FROM routes
    GROUP BY ALL
),
installed AS (
    SELECT site, asset, member, max(installed_from) AS installed_from
    FROM installations
    WHERE installed_from <= CAST(getvariable('as_of') AS TIMESTAMPTZ)
    GROUP BY ALL
)
SELECT
    (hash(f.site, f.asset, f.position, f.axis, f.quantity, f.detector, f.band, f.feature,
        f.method_group) >> 1)::BIGINT AS series_id,
    f.*,
    p.member, p.shaft, p.bearing_housing, p.thrust_end, p.part,
    CASE
        WHEN f.axis = 'axial' THEN 'axial'
        WHEN f.axis IN ('horizontal', 'radial-in-line') THEN 'horizontal'
        WHEN f.axis IN ('vertical', 'radial-cross') THEN 'vertical'
        ELSE 'radial'
    END AS direction,
    TRY_CAST(regexp_extract(f.band, '^([0-9.]+)-([0-9.]+)Hz$', 1) AS DOUBLE) AS band_low_hz,
    TRY_CAST(regexp_extract(f.band, '^([0-9.]+)-([0-9.]+)Hz$', 2) AS DOUBLE) AS band_high_hz,
    CASE f.detector WHEN 'derived-peak' THEN 1 / sqrt(2) WHEN 'derived-peak-to-peak'
        THEN 1 / (2 * sqrt(2)) ELSE 1 END AS to_rms,
    CASE WHEN f.detector IN ('derived-peak', 'derived-peak-to-peak', 'peak', 'peak-unspecified')
        THEN 'rms' ELSE f.detector END AS judged_detector,
    f.detector IN ('peak', 'peak-unspecified') AS proof_only,
    CASE WHEN f.method_group = 'route'
        THEN 24 * (coalesce(i.interval_days, setting('route_interval_days'))
            * setting('fresh_route_intervals') + setting('route_due_window_days'))
        ELSE setting('fresh_online_hours') END AS fresh_hours,
    coalesce(z.time_zone, 'UTC') AS time_zone,
    greatest(f.first_ts, n.installed_from) AS baseline_from
FROM found AS f
LEFT JOIN points AS p ON p.site = f.site AND p.asset = f.asset AND p.position = f.position
LEFT JOIN sites AS z ON z.site = f.site
LEFT JOIN intervals AS i ON i.site = f.site AND i.asset = f.asset AND i.position = f.position
LEFT JOIN installed AS n ON n.site = f.site AND n.asset = f.asset AND n.member = p.member;
