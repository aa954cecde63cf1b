-- purpose: whether another machine of the duty group can stand in for an asset (rule W6): one that
--          stands by and is well.
-- grain: one row an asset.
-- columns: site, asset, duty_group, standby (yes, no, unknown), standby_words (each partner and how
--          it stands, or why it is not known).
-- depends: asset_running
CREATE OR REPLACE VIEW standby_available AS
WITH ill AS (
    SELECT DISTINCT e.site, e.asset
    FROM case_events AS e
    WHERE e.seq IN (SELECT max(seq) FROM case_events GROUP BY case_id)
        AND e.state NOT IN ('closed', 'done', 'verified') AND e.cleared_at IS NULL
        AND e.level IN ('alert', 'danger')
),
partners AS (
    SELECT
        a.site, a.asset, p.asset AS partner, p.service_state, c.level,
        coalesce(r.at_rest, false) OR p.service_state = 'standby' AS stands_by,
        p.service_state IN ('laid-up', 'removed') AS out_of_use,
        coalesce(c.level IN ('alert', 'danger'), false) OR i.asset IS NOT NULL AS is_ill
    FROM assets AS a
    JOIN assets AS p ON p.site = a.site AND p.duty_group = a.duty_group AND p.asset <> a.asset
    LEFT JOIN condition_current AS c
        ON c.scope = 'asset' AND c.site = p.site AND c.asset = p.asset
    LEFT JOIN asset_running AS r ON r.site = p.site AND r.asset = p.asset
    LEFT JOIN ill AS i ON i.site = p.site AND i.asset = p.asset
),
told AS (
    SELECT
        site, asset, partner,
        CASE
            WHEN out_of_use OR is_ill THEN 'no'
            WHEN level IN ('normal', 'watch') AND stands_by THEN 'yes'
            ELSE 'unknown'
        END AS standby,
        partner || ': ' || CASE
            WHEN out_of_use THEN service_state
            WHEN is_ill THEN coalesce(nullif(level, 'normal'), 'alert') || ', or an open case'
            WHEN coalesce(level, 'unknown') = 'unknown' THEN 'condition not known'
            WHEN stands_by THEN 'stands by, ' || level
            ELSE 'not known to stand by, ' || level
        END AS words
    FROM partners
),
grouped AS (
    SELECT
        site, asset, string_agg(words, '; ' ORDER BY partner) AS words,
        CASE WHEN bool_or(standby = 'yes') THEN 'yes'
            WHEN bool_or(standby = 'unknown') THEN 'unknown' ELSE 'no' END AS standby
    FROM told
    GROUP BY site, asset
)
SELECT
    a.site, a.asset, a.duty_group,
    CASE WHEN a.duty_group IS NULL THEN 'unknown' ELSE coalesce(g.standby, 'no') END AS standby,
    CASE WHEN a.duty_group IS NULL THEN 'no duty group is registered'
        ELSE coalesce(g.words, 'no other machine is in duty group ' || a.duty_group) END
        AS standby_words
FROM assets AS a
LEFT JOIN grouped AS g ON g.site = a.site AND g.asset = a.asset;
