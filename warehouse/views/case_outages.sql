-- purpose: what planning an outage needs of every open case (rule W6): until when it can wait, when
--          the value comes to its boundary at the present rate, and whether something stands in.
-- grain: one row an open case.
-- columns: those of case_summaries; quantity, detector, measured_at (UTC) of the value,
--          boundary_b_c, boundary_c_d (in `unit`); power_kw (rated, of the member); kind (outage,
--          to-verify: may need one once it is verified, none); deadline (UTC: respond-by, or the
--          end of a deferral that is later; null once cleared); boundary, boundary_on,
--          boundary_from (B/C or C/D; UTC at the present rate, and by the lower 95 % bound; of the
--          point of the machine that comes to one first),
--          estimate (words; null where none can be given), duty_group, standby, standby_words.
-- depends: case_summaries, standby_available
CREATE OR REPLACE VIEW case_outages AS
WITH judged AS (
    SELECT
        *,
        level <> 'unknown' AND distrust IS NULL AND held_since IS NULL
            AND trend_state IS NOT NULL AND trend_state <> 'not-judged' AS estimated,
        measured_at + to_seconds(86400 * trend_boundary_days) AS boundary_on,
        measured_at + to_seconds(86400 * coalesce(trend_boundary_days_low, trend_boundary_days))
            AS boundary_from
    FROM condition_current
    WHERE scope IN ('member', 'point') AND member IS NOT NULL
),
-- What governs may be read too seldom for a trend: whichever point comes to a boundary first counts.
first_reached AS (
    SELECT
        site, asset, member, trend_boundary AS boundary, boundary_on, boundary_from,
        coalesce(position || coalesce(' ' || axis, ''), evidence_position
            || coalesce(' ' || evidence_axis, '')) AS place,
        trend_boundary_days_low IS NOT NULL AS has_bound
    FROM judged
    WHERE estimated AND trend_boundary IN ('B/C', 'C/D') AND boundary_on IS NOT NULL
    QUALIFY row_number() OVER (PARTITION BY site, asset, member
        ORDER BY boundary_from, boundary_on, scope, position, axis) = 1
)
SELECT
    s.*, j.quantity, j.detector, j.measured_at, j.boundary_b_c, j.boundary_c_d,
    m.rated_power_kw AS power_kw,
    CASE
        WHEN s.needs_outage THEN 'outage'
        WHEN s.action_class IN ('repeat', 'inspect-running') AND s.level IN ('alert', 'danger')
            AND s.state NOT IN ('done', 'verified') AND s.cleared_at IS NULL THEN 'to-verify'
        ELSE 'none'
    END AS kind,
    CASE WHEN s.cleared_at IS NULL
        THEN greatest(s.respond_by, CASE WHEN s.state = 'deferred' THEN s.until END) END AS deadline,
    f.boundary, f.boundary_on, f.boundary_from,
    CASE
        WHEN f.boundary IS NOT NULL THEN f.place || ' at ' || f.boundary || ' on '
            || strftime(f.boundary_on, '%Y-%m-%d') || ' at the present rate'
            || CASE WHEN f.has_bound
                THEN ', not before ' || strftime(f.boundary_from, '%Y-%m-%d') || ' (95 %)'
                ELSE '' END
        WHEN NOT coalesce(j.estimated, false) THEN NULL
        WHEN j.trend_state = 'rising' AND j.value > j.boundary_c_d
            THEN 'above C/D already, and rising'
        WHEN j.trend_state = 'rising' THEN 'rising, no zone boundary within the horizon'
        ELSE 'not rising'
    END AS estimate,
    a.duty_group, a.standby, a.standby_words
FROM case_summaries AS s
LEFT JOIN judged AS j
    ON j.scope = 'member' AND j.site = s.site AND j.asset = s.asset AND j.member = s.member
LEFT JOIN first_reached AS f ON f.site = s.site AND f.asset = s.asset AND f.member = s.member
LEFT JOIN members AS m ON m.site = s.site AND m.asset = s.asset AND m.member = s.member
LEFT JOIN standby_available AS a ON a.site = s.site AND a.asset = s.asset;
