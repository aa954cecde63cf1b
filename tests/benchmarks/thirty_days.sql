-- purpose: what twenty-eight days of one commit a minute leave in the ledger
-- grain: each statement stands under its name

-- packages like the newest one of each source, so many of each, taken in whole
-- name: packages
INSERT INTO packages (
    source, sha256, mapping, file, bytes, received_at, state, finished_at, items, accepted, payload_codec
)
WITH RECURSIVE numbers (number) AS (
    SELECT 1 UNION ALL SELECT number + 1 FROM numbers WHERE number < :each
)
SELECT
    packages.source, 'fast-forwarded ' || packages.seq || ' ' || numbers.number, packages.mapping,
    packages.file, packages.bytes, packages.received_at, 'committed', packages.finished_at,
    packages.items, packages.accepted, 'zstd'
FROM packages, numbers
WHERE packages.seq IN (SELECT max(seq) FROM packages GROUP BY file)

-- name: groups
INSERT INTO groups (committed, planned_at, committed_at)
WITH RECURSIVE numbers (number) AS (
    SELECT 1 UNION ALL SELECT number + 1 FROM numbers WHERE number < :each
)
SELECT 1, '2025-06-01T00:00:00+00:00', '2025-06-01T00:00:00+00:00' FROM numbers

-- name: members
INSERT OR IGNORE INTO members (number, seq, accepted)
SELECT groups.number, packages.seq, packages.accepted
FROM packages JOIN groups ON groups.number = :first + (packages.seq - :seq) % :each
WHERE packages.seq >= :seq
