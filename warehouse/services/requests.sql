-- purpose: requests that change something by name, so that the same one again changes nothing more
-- grain: one row a request of one caller

-- name: table
CREATE TABLE IF NOT EXISTS requests (
    caller TEXT NOT NULL,
    name TEXT NOT NULL,
    digest TEXT NOT NULL,
    action INTEGER NOT NULL,
    answer TEXT,
    at TEXT NOT NULL,
    PRIMARY KEY (caller, name)
) STRICT

-- name: find
SELECT digest, action, answer FROM requests WHERE caller = :caller AND name = :name

-- name: intend
INSERT OR REPLACE INTO requests (caller, name, digest, action, answer, at)
VALUES (:caller, :name, :digest, :action, NULL, :at)

-- name: answer
UPDATE requests SET answer = :answer WHERE caller = :caller AND name = :name

-- name: forget
DELETE FROM requests WHERE at < :before
