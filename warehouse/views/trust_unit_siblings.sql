-- purpose: two instruments at one place and direction that disagree by the factor of a slip of unit
--          (rule J10), though neither stepped: the lower one shows no health, and the higher one is
--          believed meanwhile.
-- grain: one row a stream that is the lower of such a pair.
-- columns: check_code, stream_id, source, device, since (UTC, first day on which it was so low),
--          until (null: still so), effect, evidence (words).
-- depends: compared_days, streams, trust_unit_steps, setting, number_text, unit_text
-- materialise: yes
CREATE OR REPLACE VIEW trust_unit_siblings AS
WITH recent AS (
    SELECT
        s.stream_id, s.site, s.asset, s.position, s.axis, s.quantity, s.band, s.feature,
        -- True peaks are compared with true peaks only (rule R1).
        CASE WHEN s.detector IN ('derived-peak', 'derived-peak-to-peak') THEN 'rms'
            ELSE s.detector END AS detector,
        s.source, s.device, s.method_group, s.unit,
        median(d.value) * any_value(s.to_rms) AS value
    FROM compared_days AS d
    JOIN streams AS s ON s.stream_id = d.stream_id
    WHERE d.day > CAST(timezone(s.time_zone, CAST(getvariable('as_of') AS TIMESTAMPTZ)) AS DATE)
        - CAST(setting('sibling_days') AS INTEGER)
    GROUP BY ALL
    HAVING count(d.value) >= CASE WHEN s.method_group = 'route' THEN setting('slip_visits')
        ELSE setting('slip_days') END
),
pairs AS (
    SELECT
        a.stream_id, a.source, a.device, a.quantity, a.unit, a.value,
        b.value AS other_value, b.device AS other_device, b.method_group AS other_method,
        u.factor, u.slip
    FROM recent AS a
    JOIN recent AS b
        ON b.site = a.site AND b.asset = a.asset AND b.position = a.position
        AND b.axis IS NOT DISTINCT FROM a.axis AND b.quantity = a.quantity
        AND b.band IS NOT DISTINCT FROM a.band AND b.feature = a.feature
        AND b.detector = a.detector AND b.device <> a.device
    JOIN unit_slips AS u ON u.quantity = a.quantity AND u.factor < 1
        AND abs(ln(a.value / b.value / u.factor)) <= ln(setting('slip_tolerance'))
    ANTI JOIN (SELECT stream_id FROM trust_unit_steps WHERE until IS NULL) AS t
        ON t.stream_id IN (a.stream_id, b.stream_id)
    QUALIFY row_number() OVER (PARTITION BY a.stream_id ORDER BY b.stream_id) = 1
),
-- Low since the day after the last one nearer to the other instrument than to the slip.
last_right AS (
    SELECT p.stream_id, max(d.day) AS day
    FROM pairs AS p
    JOIN streams AS s ON s.stream_id = p.stream_id
    JOIN compared_days AS d ON d.stream_id = p.stream_id
    WHERE d.value * s.to_rms > p.other_value * sqrt(p.factor)
    GROUP BY p.stream_id
),
begun AS (
    SELECT d.stream_id, min(d.first_at) AS since
    FROM compared_days AS d
    JOIN pairs AS p ON p.stream_id = d.stream_id
    LEFT JOIN last_right AS r ON r.stream_id = d.stream_id
    WHERE r.day IS NULL OR d.day > r.day
    GROUP BY d.stream_id
)
SELECT
    'unit-slip' AS check_code, p.stream_id, p.source, p.device, b.since,
    NULL::TIMESTAMPTZ AS until, 'distrust' AS effect,
    number_text(p.value) || ' ' || unit_text(p.unit) || ' here, ' || number_text(p.other_value)
        || ' by ' || p.other_device || ' (' || p.other_method || ') at the same place, '
        || number_text(p.other_value / p.value) || ' times more; ' || p.slip || ' give '
        || number_text(1 / p.factor) AS evidence
FROM pairs AS p
JOIN begun AS b ON b.stream_id = p.stream_id;
