-- purpose: lift a ledger of format version 1: log of lives, times of commits, codec of payloads, newest receipt by source
-- grain: runs in one transaction, after which tables.sql adds tables and triggers that are new
ALTER TABLE packages ADD COLUMN payload_codec TEXT;
ALTER TABLE groups ADD COLUMN planned_at TEXT;
ALTER TABLE groups ADD COLUMN committed_at TEXT;
UPDATE groups SET committed_at = (
    SELECT max(packages.finished_at) FROM members JOIN packages USING (seq)
    WHERE members.number = groups.number
) WHERE committed;
CREATE TABLE life (
    entry INTEGER PRIMARY KEY AUTOINCREMENT,
    seq INTEGER NOT NULL REFERENCES packages (seq),
    at TEXT,
    state TEXT NOT NULL,
    attempt INTEGER NOT NULL,
    file TEXT,
    items INTEGER,
    accepted INTEGER,
    duplicate INTEGER,
    revised INTEGER,
    rejected INTEGER,
    blank INTEGER,
    error TEXT
);
-- what version 1 knew of each life: the receipt, repeated receipts (their times were not recorded),
-- when it was taken in, and that it was withdrawn since
INSERT INTO life (seq, at, state, attempt, file)
SELECT seq, received_at, 'received', 1, file FROM packages ORDER BY seq;
INSERT INTO life (seq, state, attempt)
WITH RECURSIVE again (seq, number) AS (
    SELECT seq, repeats FROM packages WHERE repeats > 0
    UNION ALL
    SELECT seq, number - 1 FROM again WHERE number > 1
)
SELECT seq, 'duplicate', 1 FROM again ORDER BY seq;
INSERT INTO life (
    seq, at, state, attempt, items, accepted, duplicate, revised, rejected, blank, error
)
SELECT
    seq,
    finished_at,
    CASE
        WHEN state IN ('received', 'retracted') AND rejected > 0 THEN 'committed-with-rejects'
        WHEN state IN ('received', 'retracted') THEN 'committed'
        ELSE state
    END,
    CASE state WHEN 'received' THEN attempts - 1 ELSE attempts END,
    items, accepted, duplicate, revised, rejected, blank, error
FROM packages WHERE finished_at IS NOT NULL ORDER BY seq;
INSERT INTO life (seq, state, attempt)
SELECT seq, state, attempts FROM packages
WHERE state = 'retracted' OR (state = 'received' AND attempts > 1) ORDER BY seq;
CREATE TABLE sources (source TEXT PRIMARY KEY, mapping TEXT NOT NULL, received_at TEXT NOT NULL);
INSERT INTO sources (source, mapping, received_at)
SELECT source, mapping, max(received_at) FROM packages WHERE mapping <> 're-placed' GROUP BY source;
UPDATE inbox SET format_version = 2;
