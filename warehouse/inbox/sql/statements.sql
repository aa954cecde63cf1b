-- purpose: what the ledger asks and records
-- grain: each statement stands under its name

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

-- name: insert_package
INSERT INTO packages (source, sha256, mapping, file, bytes, received_at, state)
VALUES (:source, :sha256, :mapping, :file, :bytes, :received_at, 'received')

-- name: insert_payload
INSERT INTO payloads (seq, content) VALUES (?, ?)

-- name: read_payload
SELECT content FROM payloads WHERE seq = ?

-- name: pending_packages
SELECT * FROM packages WHERE state = 'received' ORDER BY seq

-- name: all_packages
SELECT * FROM packages ORDER BY seq

-- name: one_package
SELECT * FROM packages WHERE seq = ?

-- name: plan_part
INSERT INTO groups (seq, part, first_day, last_day) VALUES (?, ?, ?, ?)

-- name: parts_of
SELECT * FROM groups WHERE seq = ? ORDER BY part

-- name: record_part
UPDATE groups SET accepted = :accepted, duplicate = :duplicate, revised = :revised
WHERE number = :number

-- name: part_committed
UPDATE groups SET committed = 1 WHERE number = ?

-- name: forget_parts
DELETE FROM groups WHERE seq = ?

-- name: reopen_package
UPDATE packages SET state = 'received', attempts = attempts + 1 WHERE seq = ?

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

-- name: reject_counts
SELECT packages.source, reject_counts.reason, sum(reject_counts.items) AS items,
    count(*) AS packages
FROM reject_counts JOIN packages USING (seq)
GROUP BY packages.source, reject_counts.reason
ORDER BY packages.source, reject_counts.reason

-- name: reject_counts_of
SELECT reason, items FROM reject_counts WHERE seq = ? ORDER BY reason
