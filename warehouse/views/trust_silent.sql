-- purpose: the devices and channels that have gone silent: nothing for more than three of their
--          intervals, declared or observed, whichever is longer.
-- grain: one row a device of which nothing comes any more (or never did; source is null then), or a
--          machine, point or stream that is silent while others of the device still come.
-- columns: check_code, stream_id (of a single stream), source, device, site, asset, position (of a
--          machine or point), since (UTC, the last reading; null if there never was one), until
--          (null: still so), effect, evidence (words).
-- depends: streams, streams_moved, source_health, setting, number_text, time_text
-- materialise: when asked
CREATE OR REPLACE VIEW trust_silent AS
WITH taken_off AS (
    SELECT device, channel, site, asset, position
    FROM mountings
    GROUP BY ALL
    HAVING bool_and(coalesce(mounted_to <= CAST(getvariable('as_of') AS TIMESTAMPTZ), false))
),
walks AS (
    SELECT site, asset, position, max(interval_days) * 24 * 60 AS interval_minutes
    FROM routes GROUP BY ALL
),
-- A channel that moved speaks where it is now; one that was taken off has nothing to say.
expected AS (
    SELECT
        s.*,
        coalesce(greatest(s.interval_minutes, d.interval_minutes, w.interval_minutes),
            setting('fresh_online_hours') * 60 / setting('silent_intervals')) AS due_minutes,
        date_diff('second', s.last_ts, CAST(getvariable('as_of') AS TIMESTAMPTZ)) / 60.0
            AS silent_minutes
    FROM streams AS s
    ANTI JOIN streams_moved AS v ON v.stream_id = s.stream_id
    ANTI JOIN taken_off AS o
        ON o.device = s.device AND o.channel = s.channel AND o.site = s.site
        AND o.asset = s.asset AND o.position = s.position
    LEFT JOIN devices AS d ON d.device = s.device
    LEFT JOIN walks AS w ON s.method = 'route' AND w.site = s.site AND w.asset = s.asset
        AND w.position = s.position
    WHERE s.method <> 'derived'
),
told AS (
    SELECT *, silent_minutes > setting('silent_intervals') * due_minutes AS silent
    FROM expected
),
-- What is silent as a whole is told once: a device, its machine, its point, or else a channel.
whole AS (
    SELECT
        *,
        bool_and(silent) OVER (PARTITION BY source, device) AS device_silent,
        bool_and(silent) OVER (PARTITION BY source, device, site, asset) AS asset_silent,
        bool_and(silent) OVER (PARTITION BY source, device, site, asset, position) AS point_silent
    FROM told
),
silences AS (
    SELECT
        CASE WHEN NOT (device_silent OR asset_silent OR point_silent) THEN stream_id END
            AS stream_id,
        source, device,
        CASE WHEN NOT device_silent THEN site END AS site,
        CASE WHEN NOT device_silent THEN asset END AS asset,
        CASE WHEN NOT (device_silent OR asset_silent) THEN position END AS position,
        max(last_ts) AS since, min(silent_minutes) AS silent_minutes,
        min(due_minutes) AS due_minutes
    FROM whole
    WHERE silent
    GROUP BY ALL
)
SELECT
    'silent' AS check_code, stream_id, source, device, site, asset, position, since, NULL::TIMESTAMPTZ AS until,
    'note' AS effect,
    'last heard ' || time_text(since) || ', ' || number_text(silent_minutes / (24 * 60))
        || ' d before; due every ' || number_text(due_minutes / 60) || ' h' AS evidence
FROM silences
UNION ALL
SELECT
    'silent', NULL, NULL, device, NULL, NULL, NULL, NULL, NULL, 'note',
    'registered, but no reading has ever come from it'
FROM source_health
WHERE source IS NULL;
