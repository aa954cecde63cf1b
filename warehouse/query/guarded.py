"""SQL of callers, in a process of its own that can be killed.

The process opens one published state as its caller may see it, gives itself an
address space it cannot leave and no right to write a byte into any file, takes
every access to files from the engine, locks its configuration, and only then
looks at the statement. It reads a job as JSON from stdin and writes one line of
JSON and, where there are rows, an Arrow stream to stdout.

The engine's own list of allowed files is no help: a file it may read it may
also write, and `WITH x AS (COPY ... TO file)` passes for a SELECT and empties
it. So the files are opened here, for reading, and the engine is handed their
rows; it may open none by itself.
"""

from __future__ import annotations

import json
import os
import sys
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from schemas.tables import TABLES
from schemas.tables.readings import READINGS
from warehouse.access import Caller
from warehouse.errors import QueryError, WarehouseError
from warehouse.query.limited import files_seen
from warehouse.query.session import open_relations, words
from warehouse.store import Snapshot, Store, open_store
from warehouse.store.snapshot import numbered

_BATCH_ROWS = 8192
_MOST_BYTES = 256_000_000
_LOCKED = (
    "SET autoinstall_known_extensions = false",
    "SET autoload_known_extensions = false",
    "SET python_enable_replacements = false",
    "SET temp_directory = ''",
    "SET enable_external_access = false",
    "SET lock_configuration = true",
)


@dataclass(frozen=True, slots=True)
class Job:
    """A statement, who asks it of which published state, and its limits."""

    home: str
    seq: int
    statement: str
    rows: int
    memory_mb: int
    sites: list[str] | None
    sources: list[str] | None

    def text(self) -> str:
        """The job as the process reads it."""
        return json.dumps(asdict(self))

    @property
    def caller(self) -> Caller:
        """Who asks."""
        sites = None if self.sites is None else frozenset(self.sites)
        sources = None if self.sources is None else frozenset(self.sources)
        return Caller("sql", frozenset(), sites, sources)


def answer(job: Job) -> tuple[dict[str, Any], pa.Table | None]:
    """What is told of a job, and its rows."""
    store = open_store(Path(job.home))
    snapshot = numbered(store, job.seq)
    if snapshot is None:
        raise QueryError(f"state {job.seq} is not held any more")
    with open_relations(store, snapshot, words(job.statement), job.caller) as session:
        _take_files_away(session, store, snapshot, job.caller)
        _confine(job.memory_mb)
        for statement in _LOCKED:
            session.execute(statement)
        try:
            return _run(session, job)
        except (duckdb.Error, pa.ArrowException) as error:
            raise QueryError(str(error)) from error
        except MemoryError as error:
            raise QueryError(f"it needs more than {job.memory_mb} MB (sql_memory_mb)") from error


def _run(session: duckdb.DuckDBPyConnection, job: Job) -> tuple[dict[str, Any], pa.Table]:
    statements = session.extract_statements(job.statement)
    if len(statements) != 1 or statements[0].type != duckdb.StatementType.SELECT:
        raise QueryError("exactly one SELECT is answered, and nothing else")
    relation = session.sql(job.statement)
    if relation is None:
        raise QueryError("the statement gives no rows; only queries are answered")
    batches, rows, size = [], 0, 0
    reader = relation.to_arrow_reader(_BATCH_ROWS)
    for batch in reader:
        batches.append(batch.slice(0, max(0, job.rows - rows)))
        rows += batch.num_rows
        size += batch.nbytes
        if size > _MOST_BYTES:
            raise QueryError(f"the answer is larger than {_MOST_BYTES // 1_000_000} MB")
        if rows > job.rows:
            break
    return {"truncated": rows > job.rows}, pa.Table.from_batches(batches, reader.schema)


def _take_files_away(
    session: duckdb.DuckDBPyConnection, store: Store, snapshot: Snapshot, caller: Caller
) -> None:
    """Put the rows of files in place of every relation that opens files by itself."""
    import pyarrow.dataset as ds

    for table in TABLES.values():
        if caller.limited and table is not READINGS:
            continue  # its rows were taken out already
        files = store.files(table, snapshot.versions.get(table.name))
        if table is READINGS:
            files = files_seen(files, caller)
        paths = [str(file.path) for file in files]
        rows = (
            ds.dataset(paths, schema=table.arrow, format="parquet", partitioning=None)
            if paths
            else table.arrow.empty_table()
        )
        session.execute(f"DROP VIEW {table.name}")
        session.register(table.name, rows)


def _confine(memory_mb: int) -> None:
    """No more address space than is there and so much, no byte written to any file."""
    try:
        import resource
    except ImportError:  # no such limits on this system: time and rows are all that is held
        return
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    most = pages * os.sysconf("SC_PAGE_SIZE") + memory_mb * 1_000_000
    resource.setrlimit(resource.RLIMIT_AS, (most, most))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    with suppress(OSError):
        os.nice(5)


def main() -> None:
    """Answer the job on stdin."""
    sys.modules["pandas"] = None  # type: ignore[assignment]  # half of the start, for nothing here
    job = Job(**json.loads(sys.stdin.read()))
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # what a library has to say is no answer
    try:
        told, rows = answer(job)
    except WarehouseError as error:
        told, rows = {"error": error.message}, None
    except MemoryError:
        told, rows = {"error": f"it needs more than {job.memory_mb} MB (sql_memory_mb)"}, None
    out.write(json.dumps(told).encode() + b"\n")
    if rows is not None:
        with pa.ipc.new_stream(out, rows.schema) as writer:
            writer.write_table(rows)
    out.flush()
    os._exit(0)  # nothing is left to tidy, and a tight address space has no room for it


if __name__ == "__main__":
    main()
