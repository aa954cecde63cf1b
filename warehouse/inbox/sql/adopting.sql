-- purpose: bring a ledger that is older than the dataset up to what the dataset tells
-- grain: each statement stands under its name

-- name: remember_mapping
INSERT INTO mappings (version, text) VALUES (?, '# The text of this mapping was lost with a newer ledger.')
ON CONFLICT (version) DO NOTHING

-- name: remember_package
INSERT INTO packages (
    seq, source, sha256, mapping, file, bytes, received_at, state, finished_at, items, accepted, revised
)
VALUES (
    :seq, :source, 'lost-' || :seq, :mapping, 'name lost with a newer ledger', 0, :received_at, :state,
    :received_at, :stored, :stored - :revised, :revised
)

-- name: offer_again
UPDATE packages SET state = 'received', attempts = attempts + 1, accepted = :accepted, revised = :revised
WHERE seq = :seq

-- name: correct_counts
UPDATE packages SET items = items - accepted - revised + :stored, accepted = :accepted, revised = :revised
WHERE seq = :seq

-- name: set_state
UPDATE packages
SET state = CASE WHEN :withdrawn THEN 'retracted' WHEN rejected > 0 THEN 'committed-with-rejects' ELSE 'committed' END
WHERE seq = :seq
