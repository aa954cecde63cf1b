-- purpose: every record as an event, or with the first thing that is wrong with it
-- grain: one row a record
CREATE OR REPLACE TABLE event_items AS
WITH joined AS (
    SELECT
        w.* EXCLUDE (version_at, started_at, ended_at),
        p.package, p.attempt, p.file, p.received_at, p.arrived_at,
        v.moment AS version_at, s.moment AS started_at, e.moment AS ended_at,
        v.text AS version_text, s.text AS started_text, e.text AS ended_text,
        v.reason AS version_fault, s.reason AS started_fault, e.reason AS ended_fault,
        (SELECT @{plain} FROM (SELECT w.down_hours AS text)) AS hours_text,
        (SELECT @{plain} FROM (SELECT w.cost AS text)) AS cost_text,
        o.machines, o.site AS object_site, o.asset AS object_asset, o.member AS object_member
    FROM event_words AS w
    JOIN event_packages AS p ON p.file_no = w.file_no
    JOIN event_version_at AS v ON v.file_no = w.file_no AND v.line = w.line
    JOIN event_started_at AS s ON s.file_no = w.file_no AND s.line = w.line
    JOIN event_ended_at AS e ON e.file_no = w.file_no AND e.line = w.line
    LEFT JOIN event_objects AS o ON o.external_id = w.object
),
placed AS (
    SELECT
        * EXCLUDE (site, asset, member),
        coalesce(object_site, site) AS site, coalesce(object_asset, asset) AS asset,
        coalesce(object_member, member) AS member,
        site AS stated_site,
        TRY_CAST(hours_text AS DOUBLE) AS hours, TRY_CAST(cost_text AS DOUBLE) AS money
    FROM joined
),
known AS (
    SELECT
        placed.*,
        EXISTS (FROM registered_assets AS a WHERE a.site = placed.site
            AND a.asset = placed.asset) AS asset_known,
        placed.member IS NULL OR EXISTS (FROM registered_members AS m WHERE m.site = placed.site
            AND m.asset = placed.asset AND m.member = placed.member) AS member_known
    FROM placed
),
judged AS (
    SELECT
        *,
        CASE
            WHEN event IS NULL THEN {a: 'event', reason: 'blank-identity', raw: '',
                detail: 'the identifier of the event is blank; a text is needed'}
            WHEN started_text IS NULL THEN {a: 'started_at', reason: 'bad-time', raw: '',
                detail: 'the time is blank; every event needs its beginning'}
            WHEN started_fault IS NOT NULL THEN {a: 'started_at', reason: started_fault,
                raw: started_text, detail: 'no time of the declared form and zone'}
            WHEN ended_fault IS NOT NULL THEN {a: 'ended_at', reason: ended_fault,
                raw: ended_text, detail: 'no time of the declared form and zone'}
            WHEN version_fault IS NOT NULL THEN {a: 'version_at', reason: version_fault,
                raw: version_text, detail: 'no time of the declared form and zone'}
            WHEN object IS NULL AND (site IS NULL OR asset IS NULL) THEN {a: 'object',
                reason: 'unknown-machine', raw: '', detail: 'no machine is named'}
            WHEN object IS NOT NULL AND machines IS NULL THEN {a: 'object',
                reason: 'unknown-machine', raw: object,
                detail: 'no asset or member has this external id'}
            WHEN machines > 1 THEN {a: 'object', reason: 'unknown-machine', raw: object,
                detail: machines || ' machines have this external id; one alone may'}
            WHEN stated_site IS NOT NULL AND stated_site <> site THEN {a: 'object',
                reason: 'unknown-machine', raw: object,
                detail: 'the machine of this external id is at another site'}
            WHEN NOT (asset_known AND member_known) THEN {a: 'asset', reason: 'unknown-machine',
                raw: concat_ws('/', site, asset, member), detail: 'is not registered'}
            WHEN event IN (SELECT e.event FROM event_elsewhere AS e) THEN {a: 'event',
                reason: 'other-site', raw: event, detail: 'this event of the source is of a '
                || 'machine of another site'}
            WHEN activity IS NULL OR activity NOT IN (SELECT a.activity FROM activities AS a)
                THEN {a: 'activity', reason: 'unknown-activity', raw: coalesce(activity, ''),
                detail: 'is not one of ' || (SELECT string_agg(a.activity, ', '
                    ORDER BY a.activity) FROM activities AS a)}
            WHEN status NOT IN (SELECT code FROM event_codes WHERE attribute = 'status')
                THEN {a: 'status', reason: 'bad-code', raw: status, detail: 'is not a status'}
            WHEN type NOT IN (SELECT code FROM event_codes WHERE attribute = 'type')
                THEN {a: 'type', reason: 'bad-code', raw: type,
                detail: 'is not a type of maintenance'}
            WHEN severity NOT IN (SELECT code FROM event_codes WHERE attribute = 'severity')
                THEN {a: 'severity', reason: 'bad-code', raw: severity, detail: 'is no severity'}
            WHEN failure NOT IN (SELECT code FROM event_codes WHERE attribute = 'failure')
                THEN {a: 'failure', reason: 'bad-code', raw: failure,
                detail: 'is no kind of failure'}
            WHEN as_found NOT IN (SELECT code FROM event_codes WHERE attribute = 'as_found')
                THEN {a: 'as_found', reason: 'bad-code', raw: as_found,
                detail: 'is no failure mode'}
            WHEN down_hours IS NOT NULL AND (hours IS NULL OR NOT isfinite(hours))
                THEN {a: 'down_hours', reason: 'bad-number', raw: down_hours,
                detail: 'is no finite number'}
            WHEN cost IS NOT NULL AND (money IS NULL OR NOT isfinite(money))
                THEN {a: 'cost', reason: 'bad-number', raw: cost, detail: 'is no finite number'}
            WHEN ended_at < started_at THEN {a: 'ended_at', reason: 'impossible-event',
                raw: ended_text, detail: 'lies before the beginning ' || started_text}
            WHEN hours < 0 THEN {a: 'down_hours', reason: 'impossible-event', raw: down_hours,
                detail: 'is negative'}
            WHEN coalesce(ended_at, started_at) > arrived_at + INTERVAL 1 DAY
                THEN {a: 'started_at', reason: 'impossible-event',
                raw: coalesce(ended_text, started_text), detail: 'lies after the receipt; only '
                || 'work that was done is an event'}
        END AS fault
    FROM known
)
SELECT
    file_no, package, attempt, file, received_at, line, line AS row,
    event, coalesce(status, 'valid') AS status, site, asset, member, type, activity, severity,
    failure, as_found, started_at, ended_at, hours AS down_hours, money AS cost, order_id, note,
    version_text IS NOT NULL AS declared, coalesce(version_at, received_at) AS version_at,
    fault.reason AS reason, fault.a AS attribute, fault.detail AS detail,
    left(fault.raw, 200) AS raw, started_text,
    md5(concat_ws('|', coalesce(status, 'valid'), site, asset, coalesce(member, '-'),
        coalesce(type, '-'), activity, coalesce(severity, '-'), coalesce(failure, '-'),
        coalesce(as_found, '-'), epoch_us(started_at), coalesce(epoch_us(ended_at), 0),
        coalesce(hours, -1), coalesce(money, -1), coalesce(order_id, '-'), coalesce(note, '-')))
        AS digest
FROM judged;
