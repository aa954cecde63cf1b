-- purpose: many machines that change level within an hour, of one site or behind one source: most
--          likely one cause (rule J11), to be looked for before the machines. It changes no level:
--          danger stays visible.
-- grain: one row a site or source and unbroken time of such hours; where all machines of a site's
--          notice are behind one source, the source is named and the site is not told again.
-- columns: site (null for a source of several sites), source (null for a whole site), since, until
--          (UTC, first and last change), machines, of_machines (counts: changed, and judged
--          there), to_danger (count), changes (words), assets (words), notice (words).
-- depends: streams, setting, time_text
CREATE OR REPLACE VIEW common_causes AS
WITH changed AS (
    SELECT site, asset, judged_at, level_to
    FROM condition_log
    WHERE scope = 'asset' AND level_from IS NOT NULL AND level_from <> level_to
),
judged AS (
    SELECT DISTINCT site, asset FROM condition_log WHERE scope = 'asset'
),
behind AS (
    SELECT DISTINCT s.source, s.site, s.asset
    FROM streams AS s
    SEMI JOIN judged AS j ON j.site = s.site AND j.asset = s.asset
),
groups AS (
    SELECT 'site ' || site AS key, site AS home, NULL AS source, site, asset FROM judged
    UNION ALL
    SELECT 'source ' || source,
        CASE WHEN count(DISTINCT site) OVER (PARTITION BY source) = 1 THEN site END,
        source, site, asset FROM behind
),
sizes AS (
    SELECT key, any_value(home) AS home, any_value(source) AS source, count(*) AS of_machines
    FROM groups
    GROUP BY key
),
events AS (
    SELECT g.key, c.site || '/' || c.asset AS machine, c.judged_at, c.level_to
    FROM changed AS c
    JOIN groups AS g ON g.site = c.site AND g.asset = c.asset
),
hours AS (
    SELECT m.key, m.judged_at AS since, max(e.judged_at) AS until,
        count(DISTINCT e.machine) AS machines
    FROM (SELECT DISTINCT key, judged_at FROM events) AS m
    JOIN events AS e ON e.key = m.key AND e.judged_at >= m.judged_at
        AND e.judged_at < m.judged_at + to_minutes(setting('common_minutes')::BIGINT)
    GROUP BY ALL
),
many AS (
    SELECT
        h.*, max(h.until) OVER (PARTITION BY h.key ORDER BY h.since
            ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING) AS until_before
    FROM hours AS h
    JOIN sizes AS z ON z.key = h.key
    WHERE h.machines >= setting('common_machines')
        AND (z.source IS NOT NULL OR h.machines > setting('common_share') * z.of_machines)
),
-- Hours that overlap are one: what goes on for longer has one cause all the same.
numbered AS (
    SELECT *, count(*) FILTER (WHERE until_before IS NULL OR since > until_before)
        OVER (PARTITION BY key ORDER BY since) AS number
    FROM many
),
spans AS (
    SELECT key, min(since) AS since, max(until) AS until FROM numbered GROUP BY key, number
),
levels AS (
    SELECT p.key, p.since, e.level_to, count(DISTINCT e.machine) AS machines
    FROM spans AS p
    JOIN events AS e ON e.key = p.key AND e.judged_at BETWEEN p.since AND p.until
    GROUP BY ALL
),
listed AS (
    SELECT
        key, since, coalesce(max(machines) FILTER (WHERE level_to = 'danger'), 0) AS to_danger,
        string_agg(machines || ' to ' || level_to, ', ' ORDER BY machines DESC, level_to) AS changes
    FROM levels
    GROUP BY key, since
),
counted AS (
    SELECT
        p.key, z.home, z.source, p.since, p.until, z.of_machines, l.to_danger, l.changes,
        count(DISTINCT e.machine) AS machines,
        string_agg(DISTINCT e.machine, ', ' ORDER BY e.machine) AS assets
    FROM spans AS p
    JOIN sizes AS z ON z.key = p.key
    JOIN listed AS l ON l.key = p.key AND l.since = p.since
    JOIN events AS e ON e.key = p.key AND e.judged_at BETWEEN p.since AND p.until
    GROUP BY ALL
)
SELECT
    home AS site, source, since, until, machines, of_machines, to_danger, changes, assets,
    machines || ' of ' || of_machines || ' machines '
        || CASE WHEN source IS NULL THEN 'of ' || home ELSE 'behind ' || source END
        || ' changed level from ' || time_text(since) || ' to ' || time_text(until) || ' ('
        || changes || '): look for one cause first, such as gateway, power, process, or a change '
        || 'of registry, mapping or limits'
        || CASE WHEN to_danger > 0 THEN '; a danger is one until it is cleared' ELSE '' END
        AS notice
FROM counted AS a
ANTI JOIN counted AS b
    ON a.source IS NULL AND b.source IS NOT NULL AND b.home = a.home
    AND b.machines >= a.machines AND b.since <= a.until AND b.until >= a.since;
