-- purpose: streams that have always been off by the factor of a slip of unit (rule J10), told by
--          their like: machines of the same class, same quantity and direction.
-- grain: one row a stream.
-- columns: check_code, stream_id, source, device, since (UTC, its first reading), until (null:
--          still so), effect (distrust if it reads low and its neighbours on the machine read as
--          their class does; else note), evidence (words).
-- depends: compared_days, streams, trust_unit_steps, trust_unit_siblings, setting, number_text, unit_text
-- materialise: yes
CREATE OR REPLACE VIEW trust_unit_class AS
WITH levels AS (
    SELECT
        s.stream_id, s.site, s.asset, s.member, s.position, s.axis, s.source, s.device, s.channel,
        s.quantity, s.unit, s.first_ts, s.band,
        ln(median(d.value) * any_value(s.to_rms)) AS level, m.equipment_class,
        coalesce(s.axis, 'radial') = 'axial' AS axial
    FROM compared_days AS d
    JOIN streams AS s ON s.stream_id = d.stream_id
    JOIN members AS m ON m.site = s.site AND m.asset = s.asset AND m.member = s.member
    WHERE d.value IS NOT NULL AND s.feature = 'overall'
        AND s.detector IN ('rms', 'derived-peak', 'derived-peak-to-peak')
        AND d.day > CAST(timezone(s.time_zone, CAST(getvariable('as_of') AS TIMESTAMPTZ)) AS DATE)
            - CAST(setting('sibling_days') AS INTEGER)
    GROUP BY ALL
    HAVING count(*) >= CASE WHEN s.method = 'route' THEN setting('slip_visits')
        ELSE setting('slip_days') END
),
machines AS (
    SELECT site, asset, member, equipment_class, quantity, axial, median(level) AS level
    FROM levels
    GROUP BY ALL
),
classes AS (
    SELECT
        equipment_class, quantity, axial, count(*) AS machines, median(level) AS level,
        1.4826 * mad(level) AS spread
    FROM machines
    GROUP BY ALL
    HAVING count(*) > setting('class_machines')
),
placed AS (
    SELECT l.*, l.level - c.level AS off, c.level AS class_level, c.spread, c.machines
    FROM levels AS l
    JOIN classes AS c ON c.equipment_class = l.equipment_class AND c.quantity = l.quantity
        AND c.axial = l.axial
),
suspects AS (
    SELECT p.*, u.factor, u.slip
    FROM placed AS p
    JOIN unit_slips AS u ON u.quantity = p.quantity
        AND abs(p.off - ln(u.factor)) <= ln(setting('slip_tolerance'))
    WHERE abs(p.off) >= setting('class_spreads')
        * greatest(p.spread, ln(setting('class_least_spread')))
),
-- A machine that is smooth, or rough, is so in all that its channel measures, and for instruments
-- of another source, which have units of their own.
spoken AS (
    SELECT
        x.stream_id,
        bool_or(sign(b.off) = sign(x.off) AND abs(b.off) >= ln(setting('class_mate'))
            AND (b.source <> x.source AND b.quantity = x.quantity
                OR b.channel = x.channel AND b.device = x.device AND b.position = x.position
                    AND b.quantity <> x.quantity)) AS confirmed,
        median(b.off) FILTER (WHERE b.quantity = x.quantity AND b.device <> x.device
            AND b.member = x.member) AS neighbours_off
    FROM suspects AS x
    JOIN placed AS b ON b.site = x.site AND b.asset = x.asset AND b.stream_id <> x.stream_id
    GROUP BY x.stream_id
),
told AS (
    SELECT DISTINCT stream_id FROM trust_unit_steps WHERE until IS NULL
    UNION
    SELECT stream_id FROM trust_unit_siblings
)
SELECT
    'unit-slip' AS check_code, x.stream_id, x.source, x.device, x.first_ts AS since,
    NULL::TIMESTAMPTZ AS until,
    CASE WHEN x.factor < 1 AND abs(n.neighbours_off) <= ln(setting('class_mate'))
        THEN 'distrust' ELSE 'note' END AS effect,
    number_text(exp(x.level)) || ' ' || unit_text(x.unit) || ' rms, '
        || number_text(exp(abs(x.off))) || ' times '
        || CASE WHEN x.factor < 1 THEN 'lower' ELSE 'higher' END || ' than the '
        || number_text(exp(x.class_level)) || ' of ' || x.machines || ' like machines ('
        || x.equipment_class || '); ' || x.slip || ' give '
        || number_text(greatest(x.factor, 1 / x.factor))
        || CASE WHEN abs(n.neighbours_off) <= ln(setting('class_mate'))
            THEN '; its neighbours on the machine read as their class does' ELSE '' END AS evidence
FROM suspects AS x
LEFT JOIN spoken AS n ON n.stream_id = x.stream_id
ANTI JOIN told AS t ON t.stream_id = x.stream_id
WHERE NOT coalesce(n.confirmed, false);
