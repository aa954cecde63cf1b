-- purpose: the ledger: packages, their groups of commits, the mappings they were read by
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
    UNIQUE (source, sha256, mapping)
);
-- one row a numbered commit of a part of a package, recorded before it is made
CREATE TABLE IF NOT EXISTS groups (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    seq INTEGER NOT NULL REFERENCES packages (seq),
    part INTEGER NOT NULL,
    first_day TEXT,
    last_day TEXT,
    committed INTEGER NOT NULL DEFAULT 0,
    accepted INTEGER NOT NULL DEFAULT 0,
    duplicate INTEGER NOT NULL DEFAULT 0,
    revised INTEGER NOT NULL DEFAULT 0,
    UNIQUE (seq, part)
);
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
