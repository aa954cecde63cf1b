-- purpose: temperatures that step from one reading to the next to what a slip between Cel and degF
--          would make of them (rule J10), and stay there.
-- grain: one row a stream and step.
-- columns: check_code, stream_id, source, device, since, until (UTC, first and last slipped
--          reading; until is null while it is so), effect, evidence (words).
-- depends: temperature_slips, streams, setting, number_text
-- materialise: yes
CREATE OR REPLACE VIEW trust_unit_temperature AS
-- Another temperature of the device that does the same from another level.
WITH alike AS (
    SELECT DISTINCT a.stream_id, a.since
    FROM temperature_slips AS a
    JOIN streams AS s ON s.stream_id = a.stream_id
    JOIN streams AS t ON t.device = s.device AND t.stream_id <> s.stream_id
    JOIN temperature_slips AS b ON b.stream_id = t.stream_id AND b.slip = a.slip
        AND abs(date_diff('minute', a.since, b.since)) <= 10
        AND abs(b.usual - a.usual) > setting('slip_kelvin')
)
SELECT
    'unit-slip' AS check_code, p.stream_id, s.source, s.device, p.since, p.until,
    CASE WHEN p.slip = 'low' OR a.stream_id IS NOT NULL THEN 'distrust' ELSE 'note' END AS effect,
    'from ' || number_text(p.usual) || ' to ' || number_text(p.value) || ' °C at one reading; '
        || CASE p.slip WHEN 'high' THEN 'degF taken as Cel' ELSE 'Cel taken as degF' END
        || ' gives ' || number_text(p.wrong)
        || CASE WHEN a.stream_id IS NOT NULL
            THEN '; another temperature of the device did alike from another level'
            WHEN p.slip = 'high' THEN '; or it is truly so hot: verify at once'
            ELSE '; or the sensor no longer touches the machine, which runs' END AS evidence
FROM temperature_slips AS p
JOIN streams AS s ON s.stream_id = p.stream_id
LEFT JOIN alike AS a ON a.stream_id = p.stream_id AND a.since = p.since
-- A machine at rest cools to where a slip would put it.
WHERE p.slip = 'high' OR p.runs;
