-- purpose: is every device still talking, and how well: the silent, the doubtful, the low battery.
-- grain: one row a source and device that sent readings, or a registered device that never did
--        (source is null then).
-- columns: source, device, method, first_seen, last_seen (UTC), readings, readings_last_day
--          (24 h before as_of), suspect, bad, rejects (counts), battery_percent (%),
--          battery_volt (V), signal_db (dB), interval_minutes (min), silent, battery_low.
-- depends: readings_current, rejects_newest, setting
CREATE OR REPLACE VIEW source_health AS
WITH heard AS (
    SELECT
        source, device, min(method) AS method, min(ts) AS first_seen, max(ts) AS last_seen,
        count(*) AS readings,
        count(*) FILTER (WHERE ts > CAST(getvariable('as_of') AS TIMESTAMPTZ)
            - INTERVAL 24 HOUR) AS readings_last_day,
        count(*) FILTER (WHERE quality = 'suspect') AS suspect,
        count(*) FILTER (WHERE quality = 'bad') AS bad,
        arg_max(value, ts) FILTER (WHERE quantity = 'battery-charge') AS battery_percent,
        arg_max(value, ts) FILTER (WHERE quantity = 'battery-voltage') AS battery_volt,
        arg_max(value, ts) FILTER (WHERE quantity = 'signal-strength') AS signal_db
    FROM readings_current
    GROUP BY source, device
),
refused AS (
    SELECT source, device, count(*) AS rejects
    FROM rejects_newest WHERE device IS NOT NULL GROUP BY ALL
)
SELECT
    h.source,
    coalesce(h.device, d.device) AS device,
    coalesce(h.method, d.method) AS method,
    h.first_seen, h.last_seen,
    coalesce(h.readings, 0) AS readings,
    coalesce(h.readings_last_day, 0) AS readings_last_day,
    coalesce(h.suspect, 0) AS suspect,
    coalesce(h.bad, 0) AS bad,
    coalesce(r.rejects, 0) AS rejects,
    h.battery_percent, h.battery_volt, h.signal_db, d.interval_minutes,
    CASE
        WHEN h.last_seen IS NULL THEN true
        -- A meter that is walked has no interval of its own: the route has.
        WHEN coalesce(h.method, d.method) = 'route' THEN false
        ELSE CAST(getvariable('as_of') AS TIMESTAMPTZ) - h.last_seen > to_minutes(CAST(coalesce(
            d.interval_minutes * setting('silent_intervals'),
            setting('fresh_online_hours') * 60) AS BIGINT))
    END AS silent,
    coalesce(h.battery_percent < setting('battery_low_percent'), false) AS battery_low
FROM heard AS h
FULL JOIN devices AS d ON d.device = h.device
LEFT JOIN refused AS r ON r.source = h.source AND r.device = h.device;
