-- purpose: the ledger: packages, what became of them, their groups of commits, their mappings
-- grain: see each table
CREATE TABLE IF NOT EXISTS inbox (
    format_version INTEGER NOT NULL,
    inbox_id TEXT NOT NULL,
    inbox_number INTEGER NOT NULL
);
-- a mapping's exact text, by version
CREATE TABLE IF NOT EXISTS mappings (
    version TEXT PRIMARY KEY,
    text TEXT NOT NULL
);
-- one row a package; `seq` counts up in order of receipt
-- `payload_codec` is null until housekeeping has looked at the payload
CREATE TABLE IF NOT EXISTS packages (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    source TEXT NOT NULL,
    sha256 TEXT NOT NULL,
    mapping TEXT NOT NULL REFERENCES mappings (version),
    file TEXT NOT NULL,
    bytes INTEGER NOT NULL,
    received_at TEXT NOT NULL,
    state TEXT NOT NULL,
    repeats INTEGER NOT NULL DEFAULT 0,
    attempts INTEGER NOT NULL DEFAULT 1,
    finished_at TEXT,
    error TEXT,
    items INTEGER NOT NULL DEFAULT 0,
    accepted INTEGER NOT NULL DEFAULT 0,
    duplicate INTEGER NOT NULL DEFAULT 0,
    revised INTEGER NOT NULL DEFAULT 0,
    rejected INTEGER NOT NULL DEFAULT 0,
    blank INTEGER NOT NULL DEFAULT 0,
    not_measured INTEGER NOT NULL DEFAULT 0,
    payload_codec TEXT,
    UNIQUE (source, sha256, mapping)
);
-- one row a numbered commit, recorded before it is made; days bound a part of a large package
CREATE TABLE IF NOT EXISTS groups (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    first_day TEXT,
    last_day TEXT,
    committed INTEGER NOT NULL DEFAULT 0,
    planned_at TEXT,
    committed_at TEXT
);
-- one row a package in a group, with what the commit holds of it
CREATE TABLE IF NOT EXISTS members (
    number INTEGER NOT NULL REFERENCES groups (number),
    seq INTEGER NOT NULL REFERENCES packages (seq),
    accepted INTEGER NOT NULL DEFAULT 0,
    duplicate INTEGER NOT NULL DEFAULT 0,
    revised INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (number, seq)
);
CREATE INDEX IF NOT EXISTS members_by_package ON members (seq);
CREATE INDEX IF NOT EXISTS packages_by_state ON packages (state, seq);
-- refused items by reason, complete
CREATE TABLE IF NOT EXISTS reject_counts (
    seq INTEGER NOT NULL REFERENCES packages (seq),
    reason TEXT NOT NULL,
    items INTEGER NOT NULL,
    PRIMARY KEY (seq, reason)
);
-- payloads small enough to be received in the ledger's own transaction
CREATE TABLE IF NOT EXISTS payloads (
    seq INTEGER PRIMARY KEY REFERENCES packages (seq),
    content BLOB NOT NULL
);
-- version of the registry that every stored reading is placed by; one row at most
CREATE TABLE IF NOT EXISTS placed_by (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    version INTEGER NOT NULL
);
-- looking whether anything waits costs nothing, however many packages there were
CREATE INDEX IF NOT EXISTS packages_waiting ON packages (seq) WHERE state = 'received';
-- so does looking for payloads to compress
CREATE INDEX IF NOT EXISTS packages_uncompressed ON packages (seq) WHERE payload_codec IS NULL;

-- one row a source: its newest receipt of something new, so that silence is found without a scan
CREATE TABLE IF NOT EXISTS sources (
    source TEXT PRIMARY KEY,
    mapping TEXT NOT NULL,
    received_at TEXT NOT NULL
);
CREATE TRIGGER IF NOT EXISTS source_heard AFTER INSERT ON packages WHEN new.mapping <> 're-placed' BEGIN
    INSERT INTO sources (source, mapping, received_at)
    VALUES (new.source, new.mapping, new.received_at)
    ON CONFLICT (source) DO UPDATE SET
        mapping = excluded.mapping, received_at = excluded.received_at;
END;

-- one row a thing that happened to a package, in order; `at` is null where it was not recorded
-- counts are those of the package when it was done; `file` is the name it came under
CREATE TABLE IF NOT EXISTS life (
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
CREATE INDEX IF NOT EXISTS life_by_package ON life (seq, entry);
-- the log of lives writes itself: whoever changes a package's state, nothing is forgotten
CREATE TRIGGER IF NOT EXISTS package_received AFTER INSERT ON packages BEGIN
    INSERT INTO life (seq, at, state, attempt, file)
    VALUES (new.seq, new.received_at, new.state, new.attempts, new.file);
END;
CREATE TRIGGER IF NOT EXISTS package_offered_again AFTER UPDATE OF attempts ON packages
WHEN new.state = 'received' AND new.attempts <> old.attempts BEGIN
    INSERT INTO life (seq, at, state, attempt)
    VALUES (new.seq, strftime('%Y-%m-%dT%H:%M:%f000+00:00', 'now'), new.state, new.attempts);
END;
CREATE TRIGGER IF NOT EXISTS package_done AFTER UPDATE OF state ON packages
WHEN new.state <> 'received' BEGIN
    INSERT INTO life (
        seq, at, state, attempt, items, accepted, duplicate, revised, rejected, blank, error
    )
    VALUES (
        new.seq, strftime('%Y-%m-%dT%H:%M:%f000+00:00', 'now'), new.state, new.attempts, new.items,
        new.accepted, new.duplicate, new.revised, new.rejected, new.blank, new.error
    );
END;

-- one row a request that named itself (Idempotency-Key): what it was told, recorded with its receipt
CREATE TABLE IF NOT EXISTS requests (
    caller TEXT NOT NULL,
    key TEXT NOT NULL,
    seq INTEGER NOT NULL REFERENCES packages (seq),
    repeated INTEGER NOT NULL,
    at TEXT NOT NULL,
    PRIMARY KEY (caller, key)
);

-- one row a site that a package may touch, from that attempt on; a package of no limit has none
-- `*` stands for all sites, a blank for none
CREATE TABLE IF NOT EXISTS package_sites (
    seq INTEGER NOT NULL REFERENCES packages (seq),
    site TEXT NOT NULL,
    attempt INTEGER NOT NULL,
    PRIMARY KEY (seq, site)
) WITHOUT ROWID;
