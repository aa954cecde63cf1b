-- purpose: the condition of every machine train: its worst machine. `normal` needs a judged
--          radial on every driver and driven machine (rule J7), else it is `unknown`.
-- grain: one row an asset that has at least one machine (not removed, not a measuring station).
-- columns: site, asset, evidence columns as in `condition_current`, coverage,
--          measured_points, judgeable_points (bearing positions).
-- depends: member_conditions, level_rank, basis_rank, worst_level
-- materialise: yes
CREATE OR REPLACE VIEW asset_conditions AS
WITH machines AS MATERIALIZED (
    SELECT * FROM member_conditions
),
worst AS (
    SELECT *
    FROM machines
    QUALIFY row_number() OVER (
        PARTITION BY site, asset
        ORDER BY level_rank(level, last_level, basis) DESC, basis_rank(basis),
            share_of_b_c DESC NULLS LAST, member) = 1
),
counted AS (
    SELECT
        site, asset,
        sum(measured_points)::INTEGER AS measured_points,
        sum(judgeable_points)::INTEGER AS judgeable_points,
        coalesce(bool_and(coverage = 'normal') FILTER (WHERE role IN ('driver', 'driven')), false)
            AS every_machine_seen,
        string_agg(member || CASE WHEN basis = 'unjudged' THEN ' (not judged)' ELSE '' END, ', '
            ORDER BY member) FILTER (WHERE coverage <> 'normal' AND role <> 'gear') AS unseen,
        coalesce(bool_or(judgeable_points = 0) FILTER (WHERE role IN ('driver', 'driven')), true)
            AS machine_without_point,
        string_agg(member || ': ' || reason, ' ' ORDER BY member)
            FILTER (WHERE basis = 'no-fresh-reading' AND role IN ('driver', 'driven')) AS silent,
        coalesce(bool_and(basis = 'unjudged') FILTER (WHERE coverage <> 'normal' AND role <> 'gear'),
            false) AS only_unjudged,
        string_agg(member || ': ' || reason, ' ' ORDER BY member)
            FILTER (WHERE basis = 'unjudged' AND role <> 'gear') AS unjudged,
        worst_level(level, last_level) AS was,
        CASE WHEN count(DISTINCT coalesce(blind_to, '')) = 1 THEN min(blind_to)
            ELSE string_agg(member || ': ' || blind_to, '; ' ORDER BY member) END AS blind_to,
        string_agg(distrust, '; ' ORDER BY member) AS distrust
    FROM machines
    GROUP BY ALL
),
covered AS (
    SELECT
        w.* EXCLUDE (coverage, measured_points, judgeable_points, blind_to)
            REPLACE (
                coalesce(w.distrust, c.distrust) AS distrust,
                CASE WHEN w.level = 'unknown' THEN c.was ELSE w.last_level END AS last_level,
                w.reason || CASE WHEN w.level = 'normal' AND w.distrust IS NULL
                    AND c.distrust IS NOT NULL THEN ' Not counted: ' || c.distrust || '.'
                    ELSE '' END AS reason
            ),
        c.measured_points, c.judgeable_points, c.blind_to, c.unseen, c.silent, c.unjudged,
        c.only_unjudged,
        CASE
            WHEN c.measured_points > 0 AND c.measured_points = c.judgeable_points
                AND NOT c.machine_without_point THEN 'normal'
            WHEN c.every_machine_seen THEN 'normal'
            WHEN c.measured_points > 0 THEN 'partial'
            ELSE 'none'
        END AS coverage
    FROM worst AS w
    JOIN counted AS c ON c.site = w.site AND c.asset = w.asset
)
SELECT
    * EXCLUDE (member, role, unseen, silent, unjudged, only_unjudged) REPLACE (
        CASE WHEN level = 'normal' AND coverage <> 'normal' THEN 'unknown' ELSE level END AS level,
        CASE WHEN level = 'normal' AND coverage <> 'normal' AND silent IS NOT NULL
            THEN 'no-fresh-reading'
            WHEN level = 'normal' AND coverage <> 'normal' AND only_unjudged THEN 'unjudged'
            WHEN level = 'normal' AND coverage <> 'normal' THEN 'partial-coverage'
            ELSE basis END AS basis,
        CASE WHEN level = 'normal' AND coverage <> 'normal' AND silent IS NOT NULL
            THEN 'A machine of the train has gone silent: ' || silent
            WHEN level = 'normal' AND coverage <> 'normal'
            THEN 'What is seen is normal, but not enough of the train is: '
                || coalesce(unseen, 'a bearing') || '. Worst seen: ' || reason
                || coalesce(' ' || unjudged, '')
            ELSE reason END AS reason
    )
FROM covered;
