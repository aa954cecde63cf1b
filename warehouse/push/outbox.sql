-- purpose: who is told of what, what is to be told and was, every attempt
-- grain: each statement stands under its name

-- name: tables
CREATE TABLE IF NOT EXISTS subscriptions (
    id TEXT PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
    url TEXT NOT NULL,
    streams TEXT NOT NULL,
    sites TEXT,
    case_after INTEGER NOT NULL,
    level_after INTEGER NOT NULL,
    state TEXT NOT NULL DEFAULT 'active' CHECK (state IN ('active', 'disabled')),
    why TEXT,
    created_at TEXT NOT NULL,
    created_by TEXT NOT NULL,
    failures INTEGER NOT NULL DEFAULT 0,
    failing_since TEXT,
    pause_until TEXT
) STRICT;
CREATE TABLE IF NOT EXISTS secrets (
    subscription TEXT NOT NULL REFERENCES subscriptions (id) ON DELETE CASCADE,
    secret TEXT NOT NULL,
    created_at TEXT NOT NULL,
    ends_at TEXT
) STRICT;
CREATE TABLE IF NOT EXISTS events (
    id TEXT PRIMARY KEY,
    type TEXT NOT NULL,
    subject TEXT NOT NULL,
    time TEXT NOT NULL,
    body BLOB NOT NULL
) STRICT;
CREATE TABLE IF NOT EXISTS deliveries (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    subscription TEXT NOT NULL REFERENCES subscriptions (id) ON DELETE CASCADE,
    event TEXT NOT NULL REFERENCES events (id),
    state TEXT NOT NULL DEFAULT 'waiting' CHECK (state IN ('waiting', 'delivered', 'given-up')),
    attempts INTEGER NOT NULL DEFAULT 0,
    queued_at TEXT NOT NULL,
    next_at TEXT NOT NULL,
    done_at TEXT,
    anew_at TEXT,
    UNIQUE (subscription, event)
) STRICT;
CREATE INDEX IF NOT EXISTS deliveries_waiting ON deliveries (subscription, next_at)
WHERE state = 'waiting';
CREATE INDEX IF NOT EXISTS deliveries_by_state ON deliveries (subscription, state);
CREATE TABLE IF NOT EXISTS attempts (
    delivery INTEGER NOT NULL REFERENCES deliveries (number) ON DELETE CASCADE,
    at TEXT NOT NULL,
    milliseconds INTEGER NOT NULL,
    status INTEGER,
    told TEXT NOT NULL
) STRICT;
CREATE INDEX IF NOT EXISTS attempts_of ON attempts (delivery);

-- outboxes made before lack it
-- name: has_anew
SELECT 1 FROM pragma_table_info('deliveries') WHERE name = 'anew_at'

-- name: add_anew
ALTER TABLE deliveries ADD COLUMN anew_at TEXT

-- name: add
INSERT INTO subscriptions
    (id, name, url, streams, sites, case_after, level_after, created_at, created_by)
VALUES
    (:id, :name, :url, :streams, :sites, :case_after, :level_after, :created_at, :created_by)

-- name: add_secret
INSERT INTO secrets (subscription, secret, created_at) VALUES (:id, :secret, :at)

-- the newest of before goes on for the overlap; older ones end where they would have
-- name: end_secrets
UPDATE secrets SET ends_at = min(coalesce(ends_at, :ends_at), :ends_at) WHERE subscription = :id

-- name: forget_secrets
DELETE FROM secrets WHERE ends_at < :now

-- name: secrets
SELECT secret FROM secrets
WHERE subscription = :id AND (ends_at IS NULL OR ends_at > :now) ORDER BY created_at DESC, rowid DESC

-- name: every
SELECT
    s.*,
    (SELECT count(*) FROM deliveries d WHERE d.subscription = s.id AND d.state = 'waiting')
        AS waiting,
    (SELECT count(*) FROM deliveries d WHERE d.subscription = s.id AND d.state = 'delivered')
        AS delivered,
    (SELECT count(*) FROM deliveries d WHERE d.subscription = s.id AND d.state = 'given-up')
        AS given_up,
    (SELECT max(done_at) FROM deliveries d WHERE d.subscription = s.id AND d.state = 'delivered')
        AS last_delivered_at,
    CASE WHEN s.state = 'active' THEN (
        SELECT max(min(d.next_at), coalesce(s.pause_until, ''))
        FROM deliveries d WHERE d.subscription = s.id AND d.state = 'waiting'
    ) END AS next_at,
    (SELECT a.told FROM attempts a JOIN deliveries d ON d.number = a.delivery
        WHERE d.subscription = s.id AND d.state = 'waiting' ORDER BY a.rowid DESC LIMIT 1)
        AS trouble
FROM subscriptions s ORDER BY s.created_at, s.id

-- name: remove
DELETE FROM subscriptions WHERE id = :id

-- name: enable
UPDATE subscriptions
SET state = 'active', why = NULL, failures = 0, failing_since = NULL, pause_until = NULL
WHERE id = :id

-- name: hurry
UPDATE deliveries SET next_at = :now, anew_at = :now
WHERE subscription = :id AND state = 'waiting'

-- name: disable
UPDATE subscriptions SET state = 'disabled', why = :why WHERE id = :id

-- name: go_on_from
UPDATE subscriptions SET case_after = :case_after, level_after = :level_after WHERE id = :id

-- name: keep_event
INSERT INTO events (id, type, subject, time, body) VALUES (:id, :type, :subject, :time, :body)
ON CONFLICT (id) DO NOTHING

-- name: queue
INSERT INTO deliveries (subscription, event, queued_at, next_at) VALUES (:id, :event, :now, :now)
ON CONFLICT (subscription, event) DO NOTHING

-- name: due
SELECT
    d.number, d.subscription, d.event, d.attempts, coalesce(d.anew_at, d.queued_at) AS begun_at, e.body
FROM deliveries d
JOIN events e ON e.id = d.event
WHERE d.subscription = :id AND d.state = 'waiting' AND d.next_at <= :now
ORDER BY d.number LIMIT 1

-- name: any_due
SELECT DISTINCT d.subscription AS id
FROM deliveries d
JOIN subscriptions s ON s.id = d.subscription
WHERE d.state = 'waiting' AND d.next_at <= :now AND s.state = 'active'
    AND (s.pause_until IS NULL OR s.pause_until <= :now)

-- name: tried
INSERT INTO attempts (delivery, at, milliseconds, status, told)
VALUES (:number, :at, :milliseconds, :status, :told)

-- name: delivered
UPDATE deliveries SET state = 'delivered', attempts = attempts + 1, done_at = :at
WHERE number = :number

-- name: well_again
UPDATE subscriptions SET failures = 0, failing_since = NULL, pause_until = NULL WHERE id = :id

-- name: try_again
UPDATE deliveries SET attempts = attempts + 1, next_at = :next_at WHERE number = :number

-- name: give_up
UPDATE deliveries SET state = 'given-up', attempts = attempts + 1, done_at = :at
WHERE number = :number

-- name: failing
UPDATE subscriptions
SET failures = failures + 1, failing_since = coalesce(failing_since, :at), pause_until = :pause_until
WHERE id = :id

-- name: log
SELECT
    d.number, d.event, e.type, e.subject, d.state, d.attempts, d.queued_at, d.next_at, d.done_at,
    a.at AS tried_at, a.milliseconds, a.status, a.told
FROM deliveries d
JOIN events e ON e.id = d.event
LEFT JOIN attempts a ON a.rowid = (SELECT max(rowid) FROM attempts WHERE delivery = d.number)
WHERE d.subscription = :id AND (:state IS NULL OR d.state = :state) AND d.number < :before
ORDER BY d.number DESC LIMIT :limit

-- name: attempts
SELECT at, milliseconds, status, told FROM attempts WHERE delivery = :number ORDER BY rowid

-- name: delivery
SELECT number, event, state FROM deliveries WHERE subscription = :id AND number = :number

-- name: resend
UPDATE deliveries SET state = 'waiting', anew_at = :now, next_at = :now, done_at = NULL
WHERE subscription = :id AND number = :number

-- name: prune
DELETE FROM deliveries WHERE state <> 'waiting' AND done_at < :before

-- name: prune_events
DELETE FROM events WHERE id NOT IN (SELECT event FROM deliveries)
