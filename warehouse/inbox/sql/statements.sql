-- purpose: what the ledger asks and records
-- grain: each statement stands under its name

-- name: has_inbox
SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'inbox'

-- name: read_inbox
SELECT format_version, inbox_id, inbox_number FROM inbox

-- name: create_inbox
INSERT INTO inbox (format_version, inbox_id, inbox_number) VALUES (?, ?, ?)

-- name: remember_mapping
INSERT INTO mappings (version, text) VALUES (?, ?) ON CONFLICT (version) DO NOTHING

-- name: mapping_text
SELECT text FROM mappings WHERE version = ?

-- name: find_package
SELECT seq FROM packages WHERE source = ? AND sha256 = ? AND mapping = ?

-- name: count_repeat
UPDATE packages SET repeats = repeats + 1 WHERE seq = ?

-- name: note_repeat
INSERT INTO life (seq, at, state, attempt, file)
SELECT seq, ?1, 'duplicate', attempts, ?2 FROM packages WHERE seq = ?3

-- name: insert_package
INSERT INTO packages (source, sha256, mapping, file, bytes, received_at, state)
VALUES (:source, :sha256, :mapping, :file, :bytes, :received_at, 'received')

-- what is planned ends as it was planned: a site noted then counts from the next attempt
-- name: note_site
INSERT OR IGNORE INTO package_sites (seq, site, attempt)
SELECT seq, :site, CASE
    WHEN state = 'received' AND NOT EXISTS (SELECT 1 FROM members WHERE members.seq = packages.seq)
    THEN attempts
    ELSE attempts + 1
END
FROM packages WHERE seq = :seq

-- name: sites_of
SELECT site FROM package_sites WHERE seq = ?

-- name: sites_of_pending
SELECT package_sites.seq, package_sites.site FROM package_sites JOIN packages USING (seq)
WHERE packages.state = 'received' AND package_sites.attempt <= packages.attempts

-- name: postpone_sites
UPDATE package_sites SET attempt = (SELECT attempts + 1 FROM packages WHERE packages.seq = package_sites.seq)
WHERE seq = :seq AND site NOT IN (SELECT value FROM json_each(:sites))

-- name: highest_package
SELECT coalesce(max(seq), 0) AS packages FROM sqlite_sequence WHERE name = 'packages'

-- name: newest_receipt
SELECT received_at FROM packages WHERE mapping <> 're-placed' ORDER BY seq DESC LIMIT 1

-- what the clock said where a receipt counts as later than that: the triggers took the receipt's time
-- name: note_clock_in_life
UPDATE life SET at = ? WHERE seq = ? AND state = 'received'

-- name: note_clock_of_source
UPDATE sources SET received_at = ? WHERE source = ?

-- name: clocks_of
SELECT
    coalesce((SELECT at FROM life WHERE life.seq = packages.seq AND life.state = 'received' ORDER BY entry LIMIT 1), received_at) AS first,
    coalesce((SELECT at FROM life WHERE life.seq = packages.seq AND life.state = 'received' ORDER BY entry DESC LIMIT 1), received_at) AS last
FROM packages WHERE seq = ?

-- name: insert_payload
INSERT INTO payloads (seq, content) VALUES (?, ?)

-- name: keeps_payload
SELECT 1 FROM payloads WHERE seq = ?

-- name: read_payload
SELECT payloads.content, packages.payload_codec
FROM payloads JOIN packages USING (seq) WHERE seq = ?

-- name: uncompressed_payloads
SELECT seq, sha256, seq IN (SELECT seq FROM payloads) AS small FROM packages
WHERE payload_codec IS NULL AND state <> 'received' AND mapping <> 're-placed'
ORDER BY seq LIMIT ?

-- name: replace_payload
UPDATE payloads SET content = ? WHERE seq = ?

-- name: set_payload_codec
UPDATE packages SET payload_codec = ? WHERE seq = ?

-- name: pending_packages
SELECT * FROM packages WHERE state = 'received' ORDER BY seq

-- name: newest_packages
SELECT seq FROM packages
WHERE (:before IS NULL OR seq < :before) AND (:state IS NULL OR state = :state)
    AND (:sources IS NULL OR source IN (SELECT value FROM json_each(:sources)))
ORDER BY seq DESC LIMIT :most

-- name: find_request
SELECT requests.seq, requests.repeated, packages.source, packages.sha256
FROM requests JOIN packages USING (seq) WHERE caller = ? AND key = ?

-- name: insert_request
INSERT INTO requests (caller, key, seq, repeated, at) VALUES (?, ?, ?, ?, ?)

-- name: forget_requests
DELETE FROM requests WHERE at < ?

-- name: all_packages
SELECT * FROM packages ORDER BY seq

-- name: one_package
SELECT * FROM packages WHERE seq = ?

-- name: plan_group
INSERT INTO groups (first_day, last_day, planned_at) VALUES (?, ?, ?)

-- name: plan_member
INSERT INTO members (number, seq) VALUES (?, ?)

-- name: planned
SELECT DISTINCT seq FROM packages JOIN members USING (seq) WHERE state = 'received'

-- name: groups_of
SELECT DISTINCT groups.* FROM groups JOIN members USING (number) WHERE members.seq = ? ORDER BY number

-- name: members_of
SELECT * FROM members WHERE number = ? ORDER BY seq

-- name: record_member
UPDATE members SET accepted = ?, duplicate = ?, revised = ? WHERE number = ? AND seq = ?

-- name: group_committed
UPDATE groups SET committed = 1, committed_at = ? WHERE number = ?

-- name: forget_groups
DELETE FROM members WHERE seq = ?

-- name: set_state
UPDATE packages SET state = ? WHERE seq = ?

-- name: reopen_package
UPDATE packages SET state = 'received', attempts = attempts + 1
WHERE seq = ? AND mapping <> 're-placed' AND state NOT IN ('received', 'retracted')

-- name: forget_reject_counts
DELETE FROM reject_counts WHERE seq = ?

-- name: finish_package
UPDATE packages
SET state = :state, finished_at = :finished_at, error = :error, items = :items,
    accepted = :accepted, duplicate = :duplicate, revised = :revised, rejected = :rejected,
    blank = :blank, not_measured = :not_measured
WHERE seq = :seq

-- name: insert_reject_count
INSERT OR REPLACE INTO reject_counts (seq, reason, items) VALUES (?, ?, ?)

-- what is open of a package: nothing where it was withdrawn, or its bytes were taken in again later
-- name: open_counts
SELECT packages.seq, packages.source, reject_counts.reason, reject_counts.items
FROM reject_counts JOIN packages USING (seq)
WHERE NOT (packages.state = 'retracted' OR EXISTS (
    SELECT 1 FROM packages AS later
    WHERE later.source = packages.source AND later.sha256 = packages.sha256
        AND later.seq > packages.seq AND later.state IN ('committed', 'committed-with-rejects')
))
ORDER BY packages.source, reject_counts.reason, packages.seq

-- name: reject_counts_of
SELECT seq, reason, items FROM reject_counts WHERE seq = ? ORDER BY reason

-- name: reject_counts_of_pending
SELECT seq, reason, items FROM reject_counts
WHERE seq IN (SELECT seq FROM packages WHERE state = 'received') ORDER BY seq, reason

-- name: all_reject_counts
SELECT seq, reason, items FROM reject_counts ORDER BY seq, reason

-- name: life_of
SELECT * FROM life WHERE seq = ? ORDER BY entry

-- names that packages of a source came under, the repeated ones included
-- name: received_names
SELECT file, bytes, sha256 FROM packages WHERE source = ?1
UNION
SELECT life.file, bytes, sha256 FROM life JOIN packages USING (seq)
WHERE source = ?1 AND life.state = 'duplicate' AND life.file IS NOT NULL

-- name: replacing_package
SELECT * FROM packages WHERE mapping = 're-placed' AND state = 're-placing' ORDER BY seq LIMIT 1

-- name: remember_replacing
INSERT INTO mappings (version, text)
VALUES ('re-placed', '# Readings written again with the place a corrected registry gives them.')
ON CONFLICT (version) DO NOTHING

-- name: begin_replacing
INSERT INTO packages (source, sha256, mapping, file, bytes, received_at, state)
VALUES (?, ?, 're-placed', 'corrected registry', 0, ?, 're-placing')

-- one that is done is touched only where readings went or came back since
-- name: count_replaced
UPDATE packages
SET items = :items, accepted = :items - :unplaced, rejected = :unplaced, state = CASE
    WHEN state = 're-placing' THEN state
    WHEN :unplaced > 0 THEN 'committed-with-rejects'
    ELSE 'committed'
END
WHERE seq = :seq AND mapping = 're-placed' AND (items, rejected) <> (:items, :unplaced)

-- name: end_replacing
UPDATE packages
SET finished_at = :finished_at, state = iif(rejected > 0, 'committed-with-rejects', 'committed')
WHERE seq = :seq

-- name: forget_unplaced
DELETE FROM reject_counts WHERE seq IN (SELECT seq FROM packages WHERE mapping = 're-placed')

-- name: placed_by
SELECT version FROM placed_by

-- name: record_placed_by
INSERT INTO placed_by (only, version) VALUES (1, ?)
ON CONFLICT (only) DO UPDATE SET version = excluded.version

-- name: forget_placed_by
DELETE FROM placed_by

-- name: any_pending
SELECT 1 FROM packages WHERE state = 'received' LIMIT 1

-- name: waiting
SELECT count(*) AS packages, coalesce(sum(bytes), 0) AS bytes, min(received_at) AS oldest
FROM packages WHERE state = 'received'

-- name: packages_by_state
SELECT state, count(*) AS packages FROM packages GROUP BY state ORDER BY state

-- name: newest_commits
SELECT planned_at, committed_at FROM groups
WHERE committed_at IS NOT NULL ORDER BY number DESC LIMIT 20

-- name: last_receipts
SELECT source, mapping, received_at FROM sources ORDER BY source

-- name: newest_receipts
SELECT received_at, coalesce(life.at, received_at) AS clock
FROM packages LEFT JOIN life ON life.seq = packages.seq AND life.state = 'received' AND life.attempt = 1
WHERE mapping <> 're-placed' ORDER BY packages.seq DESC LIMIT 2
