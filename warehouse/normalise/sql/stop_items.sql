-- purpose: what every record of a route sheet says of its stop, or what is wrong with it
-- grain: one row a record that says anything of its stop
-- A record without a time of its own and without a value was visited when its neighbour was: the
-- one before it in the file, else the one after. A fault that its values are refused for as well is
-- not told twice. A stop was measured where a value of it was taken, whatever word stands beside:
-- then the visit `stands` though the word is refused.
CREATE OR REPLACE TABLE stop_items AS
WITH timed AS (
    @{timed}
),
said AS (
    SELECT
        file_no, package, attempt, file, received_at, line, @{set_no} AS set_no, ts, ts_text,
        time_fault, (@{time_blank}) AS time_blank, @{result} AS result_text,
        @{observations} AS observed_text, @{person} AS person, @{note} AS note,
        len(list_filter([@{values}], lambda cell:
            NOT list_contains($nulls::VARCHAR[], trim(coalesce(cell, ''))))) AS given
    FROM timed @{set_join}
),
parts AS (
    SELECT file_no, line, trim(part) AS word
    FROM (
        SELECT s.file_no, s.line, unnest(CASE
            WHEN w.sent IS NOT NULL THEN string_split(w.code, ' ')
            ELSE regexp_split_to_array(s.observed_text, '[;,]') END) AS part
        FROM said AS s
        LEFT JOIN stop_words AS w
            ON w.attribute = 'observations' AND w.sent = s.observed_text
        WHERE s.observed_text IS NOT NULL
    )
),
coded AS (
    SELECT p.file_no, p.line, p.word, coalesce(w.code, p.word) AS code
    FROM parts AS p
    LEFT JOIN stop_words AS w ON w.attribute = 'observations' AND w.sent = p.word
),
observed AS (
    SELECT
        file_no, line,
        string_agg(DISTINCT code, ' ' ORDER BY code) FILTER (code <> '') AS observations,
        min(word) FILTER (code <> '' AND code NOT IN (
            SELECT c.code FROM stop_codes AS c WHERE c.attribute = 'observations')) AS unknown
    FROM coded
    GROUP BY file_no, line
),
taken AS (
    SELECT file_no, line FROM items WHERE fault IS NULL
    UNION
    SELECT file_no, (row - 1) // $measures + 1 AS line FROM own
),
placed AS (
    SELECT
        s.*, t.line IS NOT NULL AS taken, k.device, k.route, k.channel AS stop, o.observations, o.unknown,
        coalesce(w.code, s.result_text) AS result,
        p.site, p.asset, p.position, p.axis,
        CASE WHEN NOT s.time_blank OR s.given > 0 THEN CASE WHEN s.time_fault IS NULL THEN s.ts END
            ELSE coalesce(
                last_value(CASE WHEN s.time_fault IS NULL THEN s.ts END IGNORE NULLS) OVER (
                    PARTITION BY s.file_no ORDER BY s.line
                    ROWS BETWEEN UNBOUNDED PRECEDING AND CURRENT ROW),
                first_value(CASE WHEN s.time_fault IS NULL THEN s.ts END IGNORE NULLS) OVER (
                    PARTITION BY s.file_no ORDER BY s.line
                    ROWS BETWEEN CURRENT ROW AND UNBOUNDED FOLLOWING))
        END AS visited_at
    FROM said AS s
    JOIN keys AS k ON k.key_no = (s.set_no - 1) * $measures + 1
    LEFT JOIN taken AS t ON t.file_no = s.file_no AND t.line = s.line
    LEFT JOIN observed AS o ON o.file_no = s.file_no AND o.line = s.line
    LEFT JOIN stop_words AS w ON w.attribute = 'result' AND w.sent = s.result_text
    LEFT JOIN placements AS p
        ON p.place_rule = 'stop' AND p.scope = k.route AND p.name = k.channel
),
judged AS (
    SELECT *,
        CASE
            WHEN result NOT IN (SELECT code FROM stop_codes WHERE attribute = 'result')
                THEN {a: 'result', reason: 'bad-code', raw: result_text, detail: 'is not one of '
                || (SELECT string_agg(code, ', ') FROM stop_codes WHERE attribute = 'result')}
            WHEN unknown IS NOT NULL
                THEN {a: 'observations', reason: 'bad-code', raw: observed_text, detail:
                quoted(unknown) || ' is not one of ' || (SELECT string_agg(code, ', ')
                FROM stop_codes WHERE attribute = 'observations')}
            WHEN result = 'measured' AND given = 0
                THEN {a: 'result', reason: 'bad-code', raw: result_text,
                detail: 'no value stands beside it'}
            WHEN result <> 'measured' AND given > 0
                THEN {a: 'result', reason: 'bad-code', raw: result_text,
                detail: 'a value stands beside it; a stop that was measured is measured, or blank'}
            WHEN given > 0 AND (route IS NULL OR stop IS NULL OR site IS NULL
                OR visited_at IS NULL) THEN NULL
            WHEN route IS NULL OR stop IS NULL
                THEN {a: 'result', reason: 'blank-identity', raw: coalesce(result_text,
                observed_text), detail: 'route and stop are needed'}
            WHEN site IS NULL
                THEN {a: 'result', reason: 'unknown-stop', raw: coalesce(result_text,
                observed_text), detail: unknown_stop(route, stop, $sheet_route::VARCHAR)}
            WHEN visited_at IS NULL
                THEN {a: 'time', reason: CASE WHEN time_blank THEN 'bad-time' ELSE time_fault END,
                raw: ts_text, detail: CASE WHEN time_blank THEN 'no stop of the sheet has a time'
                ELSE 'the time of the stop is of no use' END}
        END AS fault
    FROM placed
    WHERE result_text IS NOT NULL OR observed_text IS NOT NULL OR given > 0
),
told AS (
    SELECT
        * REPLACE (
            CASE WHEN taken THEN 'measured' WHEN given = 0 THEN result END AS result,
            CASE WHEN unknown IS NULL THEN observations END AS observations),
        (fault IS NULL OR taken) AND route IS NOT NULL AND stop IS NOT NULL AND site IS NOT NULL
            AND visited_at IS NOT NULL AS stands
    FROM judged
)
SELECT
    file_no, package, attempt, file, received_at, line, (line - 1) * $measures + 1 AS row,
    route, stop, visited_at, result, observations, note, person, device, site, asset, position, axis,
    fault.reason AS reason, fault.a AS attribute, fault.detail AS detail,
    left(fault.raw, 200) AS raw, ts_text, stands,
    md5(concat_ws('|', coalesce(result, '-'), coalesce(observations, '-'), coalesce(note, '-'),
        coalesce(person, '-'), coalesce(device, '-'))) AS digest
FROM told
WHERE fault IS NOT NULL OR stands;
