-- purpose: how many alerts were right, from what people called their cases (rule W3): the only honest
--          figure of precision; beside it the false ones in healthy machine-years, and the failures
--          missed, each with how bad it may be for all these few figures tell (rule F1).
-- grain: one row a class of machine (ISO 14224), site, and the whole selection (`fleet`); and one a
--          basis, of its cases only.
-- columns: grouped_by (class, site, basis, fleet), site, equipment_class, basis (null where it is not
--          what the row is about), cases (opened within the window, count), real, false_alarm,
--          process, sensor (what they were called, count), accepted (borne until a date: no verdict),
--          uncalled (count), precision (real of those called real, false alarm, process or sensor;
--          null with none), precision_low, precision_high (two-sided at `reliability_confidence`,
--          Clopper and Pearson), machine_years (a: machines at a known level that neither failed nor
--          had a real case within the window; null for a basis), false_per_year (false alarm, process
--          and sensor, a machine-year), false_per_year_high (its one-sided 95 % bound), claim (enough,
--          too-few-machine-years, cases-uncalled: whether the false ones say anything; null for a
--          basis), failures, missed (functional, count; null for a basis), missed_share,
--          missed_share_high (one-sided 95 % bound; both null without failures).
-- depends: cases, fleet_members, level_spells, missed_failures, window_from, window_to, setting
CREATE OR REPLACE VIEW alert_precision AS
WITH opened AS (
    SELECT c.site, c.asset, c.member, m.equipment_class, c.basis, c.disposition
    FROM cases AS c
    JOIN fleet_members AS m ON m.site = c.site AND m.asset = c.asset AND m.member = c.member
    WHERE c.opened_at >= window_from() AND c.opened_at < window_to()
),
ill AS (
    SELECT DISTINCT site, asset, member FROM opened WHERE disposition = 'real'
    UNION
    SELECT DISTINCT m.site, m.asset, m.member
    FROM missed_failures AS f
    JOIN fleet_members AS m ON m.site = f.site AND m.asset = f.asset
        AND (f.member IS NULL OR f.member = m.member)
),
healthy AS (
    SELECT
        m.site, m.equipment_class,
        sum(epoch(least(s.until, window_to()) - greatest(s.since, window_from())))
            / (86400 * 365.25) AS machine_years
    FROM fleet_members AS m
    JOIN level_spells AS s
        ON s.scope = 'member' AND s.site = m.site AND s.asset = m.asset AND s.member = m.member
    ANTI JOIN ill AS i ON i.site = m.site AND i.asset = m.asset AND i.member = m.member
    WHERE s.level <> 'unknown' AND s.since < window_to() AND s.until > window_from()
    GROUP BY ALL
),
listed AS (
    SELECT site, equipment_class, basis, disposition, true AS is_case,
        NULL::DOUBLE AS machine_years, NULL::BOOLEAN AS missed
    FROM opened
    UNION ALL
    SELECT site, equipment_class, NULL, NULL, false, machine_years, NULL FROM healthy
    UNION ALL
    SELECT site, equipment_class, NULL, NULL, false, NULL, missed FROM missed_failures
),
grouped AS (
    SELECT 'site' AS grouped_by, * EXCLUDE (equipment_class, basis) FROM listed
    UNION ALL BY NAME
    SELECT 'class' AS grouped_by, * EXCLUDE (site, basis) FROM listed
    WHERE equipment_class IS NOT NULL
    UNION ALL BY NAME
    SELECT 'fleet' AS grouped_by, * EXCLUDE (site, equipment_class, basis) FROM listed
    UNION ALL BY NAME
    SELECT 'basis' AS grouped_by, * EXCLUDE (site, equipment_class) FROM listed WHERE is_case
),
counted AS (
    SELECT
        grouped_by, site, equipment_class, basis,
        count(*) FILTER (is_case) AS cases,
        count(*) FILTER (disposition = 'real') AS real,
        count(*) FILTER (disposition = 'false-alarm') AS false_alarm,
        count(*) FILTER (disposition = 'process') AS process,
        count(*) FILTER (disposition = 'sensor') AS sensor,
        count(*) FILTER (disposition = 'accepted-until') AS accepted,
        count(*) FILTER (is_case AND disposition IS NULL) AS uncalled,
        CASE WHEN grouped_by <> 'basis' THEN coalesce(sum(g.machine_years), 0) END AS machine_years,
        CASE WHEN grouped_by <> 'basis' THEN count(g.missed) END AS failures,
        CASE WHEN grouped_by <> 'basis' THEN count(*) FILTER (g.missed) END AS missed
    FROM grouped AS g
    GROUP BY grouped_by, site, equipment_class, basis
),
called AS (
    SELECT *, false_alarm + process + sensor AS wrong, real + false_alarm + process + sensor AS all_called,
        0.5 + setting('reliability_confidence') / 2 AS p
    FROM counted
)
SELECT
    grouped_by, site, equipment_class, basis, cases, real, false_alarm, process, sensor, accepted,
    uncalled,
    real / nullif(all_called, 0) AS precision,
    1 - share_at_most(wrong, all_called, p) AS precision_low,
    share_at_most(real, all_called, p) AS precision_high,
    machine_years,
    wrong / nullif(machine_years, 0) AS false_per_year,
    chi_square_quantile(0.95, 2 * wrong + 2) / 2 / nullif(machine_years, 0) AS false_per_year_high,
    CASE
        WHEN grouped_by = 'basis' THEN NULL
        WHEN machine_years < setting('claim_machine_years') THEN 'too-few-machine-years'
        WHEN uncalled > 0 THEN 'cases-uncalled'
        ELSE 'enough'
    END AS claim,
    failures, missed,
    missed / nullif(failures, 0) AS missed_share,
    share_at_most(missed, failures, 0.95) AS missed_share_high
FROM called;
