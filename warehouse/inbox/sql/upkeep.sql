-- purpose: what housekeeping asks of the ledger and puts right in it
-- grain: each statement stands under its name

-- name: highest_numbers
SELECT
    (SELECT coalesce(max(seq), 0) FROM sqlite_sequence WHERE name = 'groups') AS groups,
    (SELECT coalesce(max(seq), 0) FROM sqlite_sequence WHERE name = 'packages') AS packages

-- name: inboxes
SELECT seq / ?1 AS inbox FROM packages
UNION SELECT seq / ?1 FROM sqlite_sequence WHERE name = 'packages'
UNION SELECT 0

-- name: any_numbers
SELECT 1 FROM sqlite_sequence WHERE name = 'packages'

-- name: begin_numbers
INSERT INTO sqlite_sequence (name, seq) VALUES ('packages', 0)

-- name: skip_numbers
UPDATE sqlite_sequence SET seq = max(seq, ?) WHERE name = 'packages'

-- name: members_above
SELECT groups.number, groups.committed, members.seq, members.accepted + members.revised AS stored
FROM groups JOIN members USING (number)
WHERE groups.number > ?
ORDER BY groups.number, members.seq

-- name: recorded_while_received
SELECT DISTINCT seq FROM packages JOIN members USING (seq) WHERE state = 'received' ORDER BY seq

-- name: renew_inbox
UPDATE inbox SET inbox_id = ?

-- name: forget_members
DELETE FROM members

-- name: forget_commits
DELETE FROM groups

-- a withdrawn package stays withdrawn
-- name: offer_again
UPDATE packages
SET state = CASE state WHEN 'retracted' THEN state ELSE 'received' END, attempts = attempts + 1, accepted = :accepted, revised = :revised
WHERE seq = :seq AND mapping <> 're-placed'

-- name: counts
SELECT seq, state, attempts, accepted + revised AS stored FROM packages
WHERE mapping <> 're-placed' ORDER BY seq

-- name: file_names
SELECT seq, file FROM packages ORDER BY seq

-- name: large_payloads_needed
SELECT seq, file, sha256 FROM packages
WHERE mapping <> 're-placed' AND state = 'received' AND seq NOT IN (SELECT seq FROM payloads)
ORDER BY seq

-- name: old_payloads
SELECT seq, file, sha256, bytes, seq IN (SELECT seq FROM payloads) AS small FROM packages
WHERE state = 'committed' AND mapping <> 're-placed' AND finished_at < :before
    AND NOT EXISTS (
        SELECT 1 FROM packages AS other
        WHERE other.sha256 = packages.sha256 AND other.mapping <> packages.mapping
            AND NOT (other.state = 'committed' AND other.finished_at < :before)
    )
ORDER BY seq

-- name: remove_payload
DELETE FROM payloads WHERE seq = ?

-- name: in_doubt
SELECT seq FROM packages WHERE state = 'failed' AND accepted + revised > 0 ORDER BY seq

-- name: damage
PRAGMA integrity_check(1)
