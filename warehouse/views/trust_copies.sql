-- purpose: channels that tell the same to the last digit day after day: one is a copy of the other,
--          or both are wired to one sensor. No two machines, nor two axes, move alike so.
-- grain: one row a stream, twin and spell of equal days.
-- columns: check_code, stream_id, source, device, since, until (UTC, first and last equal reading;
--          until is null while it is so), effect (note where both are at one place and direction:
--          the readings may be right, but are one witness; else distrust), evidence (words).
-- depends: copy_days, streams, setting
-- materialise: yes
CREATE OR REPLACE VIEW trust_copies AS
WITH placed AS (
    SELECT d.*, s.site, s.quantity, s.detector, s.source, s.device, s.channel
    FROM copy_days AS d
    JOIN streams AS s ON s.stream_id = d.stream_id
    WHERE s.method <> 'derived'
),
twins AS (
    SELECT a.stream_id AS a_id, b.stream_id AS b_id
    FROM placed AS a
    JOIN placed AS b
        ON b.site = a.site AND b.quantity = a.quantity AND b.detector = a.detector
        AND b.day = a.day AND b.readings = a.readings AND b.fingerprint = a.fingerprint
        AND b.stream_id > a.stream_id
        AND (b.source, b.device, b.channel) <> (a.source, a.device, a.channel)
    GROUP BY ALL
    HAVING count(*) >= setting('copy_days')
),
compared AS (
    SELECT
        w.a_id, w.b_id, a.day, a.readings, a.first_at, a.last_at,
        a.readings = b.readings AND a.fingerprint = b.fingerprint AS equal,
        row_number() OVER (PARTITION BY w.a_id, w.b_id ORDER BY a.day)
            - row_number() OVER (PARTITION BY w.a_id, w.b_id,
                a.readings = b.readings AND a.fingerprint = b.fingerprint ORDER BY a.day) AS run,
        max(a.day) OVER (PARTITION BY w.a_id, w.b_id) AS last_day
    FROM twins AS w
    JOIN copy_days AS a ON a.stream_id = w.a_id
    JOIN copy_days AS b ON b.stream_id = w.b_id AND b.day = a.day
),
spells AS (
    SELECT
        a_id, b_id, min(first_at) AS since, count(*) AS days, sum(readings)::BIGINT AS readings,
        CASE WHEN max(day) < any_value(last_day) THEN max(last_at) END AS until
    FROM compared
    WHERE equal
    GROUP BY a_id, b_id, run
    HAVING count(*) >= setting('copy_days') AND sum(readings) >= setting('copy_readings')
)
SELECT
    'copied' AS check_code, s.stream_id, s.source, s.device, p.since, p.until,
    CASE WHEN s.asset = t.asset AND s.position = t.position
        AND s.axis IS NOT DISTINCT FROM t.axis THEN 'note' ELSE 'distrust' END AS effect,
    p.readings || ' readings on ' || p.days || ' days are those of ' || t.device || ' '
        || t.channel || ' at ' || t.asset || ' ' || t.position || coalesce(' ' || t.axis, '')
        || ' to the last digit' AS evidence
FROM (
    SELECT a_id AS own_id, b_id AS other_id, * EXCLUDE (a_id, b_id) FROM spells
    UNION ALL
    SELECT b_id, a_id, * EXCLUDE (a_id, b_id) FROM spells
) AS p
JOIN streams AS s ON s.stream_id = p.own_id
JOIN streams AS t ON t.stream_id = p.other_id;
