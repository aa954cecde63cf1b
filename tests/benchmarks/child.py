"""One measured run in a process of its own: `ours` or `bare`; prints seconds and peak memory."""

from __future__ import annotations

import json
import resource
import sys
import time
from pathlib import Path
from typing import Any

import duckdb

from tests.benchmarks.logger_file import CHANNELS
from warehouse.inbox import Ledger
from warehouse.services.ingest import Arrival, commit_all, receive
from warehouse.services.registry import import_registry
from warehouse.sql import load_sql
from warehouse.store import Store, create_store

_SECONDS = "seconds"


def ours(folder: Path, work: Path) -> dict[str, Any]:
    """The whole pipeline, file to committed: receipt, decoding, checks, identity, commit, sync."""
    store = create_store(work / "store")
    import_registry(store, folder / "registry")
    return _take_in(store, folder, _files(folder))


def again(folder: Path, work: Path) -> dict[str, Any]:
    """The same rows once more in another file: seconds of the second time, and of the first."""
    store = create_store(work / "store")
    import_registry(store, folder / "registry")
    first = _take_in(store, folder, [folder / "logger.csv"])
    copy = work / "copy.csv"
    copy.write_bytes((folder / "logger.csv").read_bytes() + b"\n")
    second = _take_in(store, folder, [copy])
    return second | {"first": first[_SECONDS]}


def _take_in(store: Store, folder: Path, files: list[Path]) -> dict[str, Any]:
    start = time.perf_counter()
    with Ledger.open(store.inbox) as ledger:
        receive(store, ledger, [Arrival(file, folder / "logger.toml") for file in files])
        outcomes = commit_all(store, ledger)
    accepted = sum(outcome.counts.accepted for outcome in outcomes)
    return {_SECONDS: time.perf_counter() - start, "accepted": accepted}


def _files(folder: Path) -> list[Path]:
    """The small files of a case, where it has them; its one file else."""
    return sorted((folder / "parts").glob("*.csv")) or [folder / "logger.csv"]


def bare(folder: Path, work: Path) -> dict[str, Any]:
    """The yardstick: one statement, no checks, no receipt, no commit, no sync."""
    columns = {"time": "TIMESTAMPTZ"} | {f"ch{c:02d}": "DOUBLE" for c in range(1, CHANNELS + 1)}
    statement = load_sql("tests.benchmarks", "bare_copy", target=str(work / "bare.parquet"))
    start = time.perf_counter()
    with duckdb.connect(config={"threads": 2}) as session:
        session.execute("SET TimeZone = 'UTC'")
        parameters = {
            "paths": [str(path) for path in _files(folder)],
            "columns": columns,
            "received_at": "2026-01-01T00:00:00Z",
        }
        session.execute(statement, parameters)
    return {_SECONDS: time.perf_counter() - start}


def main() -> None:
    """`python -m tests.benchmarks.child ours|bare|again CASE WORK`."""
    run = {"ours": ours, "bare": bare, "again": again}[sys.argv[1]]
    result = run(Path(sys.argv[2]), Path(sys.argv[3]))
    result["peak_mib"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(json.dumps(result) + "\n")


if __name__ == "__main__":
    main()
