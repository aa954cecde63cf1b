"""What somebody may try to get out of the SQL endpoint. `make prove-api` tries all of it."""

from __future__ import annotations

from pathlib import Path

ESCAPES = [
    "WITH x AS (COPY (SELECT 1 AS a) TO '{file}' (FORMAT parquet, use_tmp_file false)) FROM x",
    "SELECT * FROM read_parquet('{file}')",
    "SELECT * FROM '{file}'",
    "SELECT * FROM read_blob('{ledger}')",
    "SELECT * FROM sqlite_scan('{ledger}', 'packages')",
    "SELECT * FROM glob('{home}/**')",
    "SELECT * FROM read_text('/etc/passwd')",
    "SELECT * FROM read_csv('/proc/self/environ')",
    "COPY (SELECT 1) TO '{file}'",
    "WITH x AS (COPY (SELECT 1 AS a) TO '{file}') SELECT * FROM x",
    "WITH x AS (COPY (SELECT 1 AS a) TO '{file}' (FORMAT csv, use_tmp_file false)) FROM x",
    "WITH x AS (DELETE FROM readings RETURNING 1) SELECT * FROM x",
    "SELECT 1; SELECT 2",
    "SET enable_external_access = true",
    "SET lock_configuration = false",
    "RESET lock_configuration",
    "PRAGMA enable_external_access",
    "ATTACH '{home}/x.duckdb'",
    "INSTALL httpfs",
    "LOAD httpfs",
    "CREATE TABLE x AS SELECT 1",
    "DROP VIEW readings",
    "EXPLAIN ANALYZE SELECT 1",
    "EXPORT DATABASE '{home}/out'",
    "CALL pragma_version()",
    "SELECT * FROM job",
    "SELECT * FROM session",
    "SELECT getenv('HOME')",
    "",
    ";",
    "SELECT",
    "\u0000",
]

HOGS = [
    "SELECT count(*) FROM range(1e7::BIGINT) a, range(1e7::BIGINT) b WHERE a.range % 7 = b.range",
    "SELECT repeat('x', 2000000000)",
    "SELECT list(range) FROM range(500000000)",
    "WITH RECURSIVE t(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM t) SELECT max(n) FROM t",
]


def filled(escape: str, home: Path) -> str:
    """The statement with places of a store."""
    file = next((home / "tables" / "readings").rglob("*.parquet"))
    places = {"file": file, "ledger": home / "inbox" / "ledger.sqlite", "home": home}
    for name, place in places.items():
        escape = escape.replace("{" + name + "}", str(place))
    return escape
