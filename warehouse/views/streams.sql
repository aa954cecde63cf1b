-- purpose: what each channel of each device sends, and where from: a trend line has no device in it
--          (rule R3), but it is a device that is to be trusted or not.
-- grain: one row a source, device, channel, quantity, detector, band, feature, method and place.
-- columns: stream_id (made of its key, the same every time), its key, series_id (its trend line), time_zone,
--          to_rms (factor to rms, rule R1), member, readings (count), first_ts, last_ts (UTC),
--          interval_minutes (observed mean interval, min; null for a single reading).
-- depends: readings_current, series, method_group_of, stream_key
-- materialise: yes
-- kept: site, asset
CREATE OR REPLACE VIEW streams AS
WITH found AS (
    SELECT
        source, device, channel, site, asset, position, axis, quantity, detector, band, feature,
        method, count(*) AS readings, min(ts) AS first_ts, max(ts) AS last_ts
    FROM readings_current
    GROUP BY ALL
)
SELECT
    stream_key(f.source, f.device, f.channel, f.site, f.asset, f.position, f.axis, f.quantity,
        f.detector, f.band, f.feature, f.method) AS stream_id,
    f.*,
    s.series_id, s.method_group, s.unit, s.time_zone, s.to_rms, s.member,
    date_diff('second', f.first_ts, f.last_ts) / 60.0 / nullif(f.readings - 1, 0)
        AS interval_minutes
FROM found AS f
JOIN series AS s
    ON s.site = f.site AND s.asset = f.asset AND s.position = f.position
    AND s.axis IS NOT DISTINCT FROM f.axis AND s.quantity = f.quantity
    AND s.detector = f.detector AND s.band IS NOT DISTINCT FROM f.band
    AND s.feature = f.feature AND s.method_group = method_group_of(f.method);
