-- purpose: how every sensor, logger and meter does: does it talk, how long its battery lasts, how
--          much of what it sent within the window is good, what the trust checks hold against it now.
-- grain: one row a source and device that sits, or sent from, a train the fleet views are about; a
--          registered device that never sent has no source. The trust checks read all of the history,
--          so this takes a while on a large store.
-- columns: source, device, method, site, asset (null where it serves several), seats (positions,
--          count), alive (not silent for longer than it may), last_heard (UTC), battery_days_left
--          (d; null where not to be told), battery (words; null without a battery), readings (of the
--          window, count), good_share (of them of quality good, 1; null without readings), rejects
--          (count), findings, distrusts (open trust findings, and those of distrust among them,
--          count), checks (codes of them, words).
-- depends: source_health, battery_life, trust_findings, device_seats, fleet_assets, readings_current, window_from, window_to
-- materialise: when asked
CREATE OR REPLACE VIEW sensor_health AS
WITH homes AS (
    SELECT
        s.device, count(*) AS seats,
        CASE WHEN count(DISTINCT s.site) = 1 THEN min(s.site) END AS site,
        CASE WHEN count(DISTINCT (s.site, s.asset)) = 1 THEN min(s.asset) END AS asset
    FROM device_seats AS s
    LEFT JOIN fleet_assets AS a ON a.site = s.site AND a.asset = s.asset
    GROUP BY s.device
    HAVING count(a.asset) > 0
),
sent AS (
    SELECT
        source, device, count(*) AS readings,
        count(*) FILTER (quality = 'good') / count(*) AS good_share
    FROM readings_current
    WHERE ts >= window_from() AND ts < window_to()
    GROUP BY ALL
),
held AS (
    SELECT
        source, device, count(*) AS findings,
        count(*) FILTER (effect = 'distrust') AS distrusts,
        string_agg(DISTINCT check_code, ', ' ORDER BY check_code) AS checks
    FROM trust_findings
    WHERE until IS NULL
    GROUP BY ALL
)
SELECT
    h.source, h.device, h.method, m.site, m.asset, m.seats, NOT h.silent AS alive,
    h.last_seen AS last_heard, b.days_left AS battery_days_left, b.told AS battery,
    coalesce(s.readings, 0) AS readings, s.good_share, h.rejects,
    coalesce(f.findings, 0) AS findings, coalesce(f.distrusts, 0) AS distrusts, f.checks
FROM source_health AS h
JOIN homes AS m ON m.device = h.device
LEFT JOIN battery_life AS b ON b.source = h.source AND b.device = h.device
LEFT JOIN sent AS s ON s.source = h.source AND s.device = h.device
LEFT JOIN held AS f ON f.source IS NOT DISTINCT FROM h.source AND f.device = h.device;
