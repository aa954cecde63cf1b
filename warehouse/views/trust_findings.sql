-- purpose: everything the trust checks found: what is doubted, why, since when, and what to do.
-- grain: one row a finding: a check and a stream, or a check and a whole device.
-- columns: check_code, effect (codes of schemas/trust.py), site, asset, position, axis (of the
--          stream; of a whole device the place it sends from), source, device, channel, quantity,
--          series_id (null for a whole device), since, until (UTC; until is null while it is so),
--          evidence (words with the numbers), remedy (plain words).
-- depends: trust_silent, trust_battery, trust_signal, trust_clock, trust_day_twice, trust_marked, trust_stopped_or_loose, trust_of_streams, trust_flat, streams, streams_moved, device_seats
-- materialise: when asked
CREATE OR REPLACE VIEW trust_findings AS
WITH found AS (
    SELECT * FROM trust_silent
    UNION ALL BY NAME SELECT * FROM trust_battery
    UNION ALL BY NAME SELECT * FROM trust_signal
    UNION ALL BY NAME SELECT * FROM trust_clock
    UNION ALL BY NAME SELECT * FROM trust_day_twice
    UNION ALL BY NAME SELECT * FROM trust_marked
    UNION ALL BY NAME SELECT * FROM trust_stopped_or_loose
    UNION ALL BY NAME SELECT * FROM trust_of_streams
    UNION ALL BY NAME SELECT * FROM trust_flat
),
-- A device with one place is told with it; a logger with many has a site only.
homes AS (
    SELECT
        device,
        CASE WHEN count(DISTINCT site) = 1 THEN min(site) END AS site,
        CASE WHEN count(DISTINCT (site, asset)) = 1 THEN min(asset) END AS asset,
        CASE WHEN count(DISTINCT (site, asset, position)) = 1 THEN min(position) END AS position
    FROM device_seats
    GROUP BY device
)
SELECT
    f.check_code, f.effect,
    coalesce(s.site, f.site, h.site) AS site, coalesce(s.asset, f.asset, h.asset) AS asset,
    coalesce(s.position, f.position, h.position) AS position, s.axis,
    f.source, f.device, s.channel, s.quantity, s.series_id, f.since,
    -- What a channel did at a place it has left is over.
    coalesce(f.until, CASE WHEN v.stream_id IS NOT NULL THEN s.last_ts END) AS until,
    f.evidence, c.remedy
FROM found AS f
JOIN trust_checks AS c ON c.check_code = f.check_code
LEFT JOIN streams AS s ON s.stream_id = f.stream_id
LEFT JOIN streams_moved AS v ON v.stream_id = f.stream_id
LEFT JOIN homes AS h ON h.device = f.device AND f.stream_id IS NULL AND f.asset IS NULL;
