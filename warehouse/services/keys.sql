-- purpose: API keys of a store: what is recorded and asked about them
-- grain: each statement stands under its name

-- name: tables
CREATE TABLE IF NOT EXISTS keys (
    id TEXT PRIMARY KEY,
    name TEXT NOT NULL,
    sha256 BLOB NOT NULL,
    scopes TEXT NOT NULL,
    sites TEXT,
    sources TEXT,
    created_at TEXT NOT NULL,
    created_by TEXT NOT NULL,
    expires_at TEXT NOT NULL,
    revoked_at TEXT,
    replaces TEXT REFERENCES keys (id),
    last_used TEXT
);

-- name: secrets
CREATE TABLE IF NOT EXISTS secrets (name TEXT PRIMARY KEY, content BLOB NOT NULL);

-- name: insert
INSERT INTO keys (id, name, sha256, scopes, sites, sources, created_at, created_by, expires_at, replaces)
VALUES (:id, :name, :sha256, :scopes, :sites, :sources, :created_at, :created_by, :expires_at, :replaces)

-- name: all
SELECT * FROM keys ORDER BY created_at, id

-- a key that ends sooner anyway keeps its end
-- name: end_at
UPDATE keys SET expires_at = min(expires_at, :at) WHERE id = :id

-- name: revoke
UPDATE keys SET revoked_at = coalesce(revoked_at, :at) WHERE id = :id

-- name: used
UPDATE keys SET last_used = :at WHERE id = :id

-- name: keep_secret
INSERT INTO secrets (name, content) VALUES (:name, :content) ON CONFLICT (name) DO NOTHING

-- name: secret
SELECT content FROM secrets WHERE name = :name
