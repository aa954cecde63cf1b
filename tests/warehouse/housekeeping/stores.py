"""Small real stores for these tests: one filled by ingest, one by files written directly."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from schemas.columns import Table
from schemas.tables.readings import READINGS, SUPERSEDED
from tests.benchmarks.logger_file import LoggerFile, make_logger_file
from warehouse.inbox import Ledger
from warehouse.services.ingest import Arrival, commit_all, receive
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store, open_store
from warehouse.store.delta import Commit
from warehouse.store.snapshot import publish

START = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
_PLAIN: dict[str, Any] = {"string": "x", "int32": 1, "int64": 0, "timestamp": START}


def reading(row: int, **changed: Any) -> dict[str, Any]:
    """A row of `readings`: its required columns filled, `row` its number and its minute."""
    plain = {c.name: _PLAIN.get(c.type) if c.required else None for c in READINGS.columns}
    times = {"ts": START + dt.timedelta(minutes=row), "value": float(row)}
    return plain | {"package": 7, "row": row, **times} | changed


def append(
    store: Store, rows: Sequence[dict[str, Any]], number: int, application: str = "t"
) -> None:
    """Commit rows of one site and month to `readings` as one file."""
    log = store.table(READINGS)
    table = pa.Table.from_pylist(list(rows), READINGS.arrow)
    partition = {"p_site": rows[0]["site"], "p_month": f"{rows[0]['ts']:%Y-%m}"}
    log.append(lambda: [log.write(table, partition)], Commit(application, number))


def supersede(store: Store, package: int, row: int, number: int = 0) -> None:
    """Commit one entry of `superseded`."""
    log = store.table(SUPERSEDED)
    values = {"package": package, "row": row, "ended_by": 1, "why": "revision"}
    table = pa.Table.from_pylist([values | {"recorded_at": START}], SUPERSEDED.arrow)
    log.append(lambda: [log.write(table)], Commit("t", number))


def publish_later(store: Store, patch: pytest.MonkeyPatch, moment: dt.datetime) -> None:
    """Publish the newest state as if it were that moment."""

    class Later(dt.datetime):
        @classmethod
        def now(cls, tz: dt.tzinfo | None = None) -> Later:
            return cls.fromtimestamp(moment.timestamp(), tz)

    with patch.context() as inner:
        inner.setattr("warehouse.store.snapshot.dt.datetime", Later)
        publish(store, moment)


def rows_of(
    store: Store,
    table: Table = READINGS,
    version: int | None = None,
    without: Collection[str] = (),
) -> Counter[str]:
    """The multiset of whole rows of a table at a version, perhaps without some columns."""
    files = store.table(table).files(version)
    tables = [pq.read_table(f.path, partitioning=None).cast(table.arrow) for f in files]
    return Counter(
        repr({k: v for k, v in row.items() if k not in without})
        for t in tables
        for row in t.to_pylist()
    )


class Plant:
    """A store filled by ingest: one logger, its file cut into parts that arrive one by one."""

    def __init__(self, folder: Path) -> None:
        """The plant that lies in `folder`."""
        self.store = open_store(folder / "home")
        self.files = sorted(folder.glob("part*.csv"))
        self.mapping = folder / "case" / "logger.toml"

    @classmethod
    def make(cls, folder: Path, readings: int, parts: int) -> Plant:
        """A new plant whose readings come in `parts`; none is taken in yet."""
        case: LoggerFile = make_logger_file(folder / "case", readings)
        import_registry(create_store(folder / "home", {"compact_files": 2}), case.registry)
        head, *lines = case.csv.read_text(encoding="utf-8").splitlines()
        for part in range(parts):
            text = "\n".join([head, *lines[part::parts]]) + "\n"
            (folder / f"part{part:02}.csv").write_text(text, encoding="utf-8")
        return cls(folder)

    def take_in(self, *parts: int, published: bool = True) -> Plant:
        """Ingest parts, each on its own, and publish the state without judging (which is slow)."""
        for part in parts:
            ingest(self.store, self.files[part], self.mapping)
        if published:
            publish(self.store, START)
        return self

    def again(self) -> Store:
        """The store, opened afresh."""
        return open_store(self.store.home)


def ingest(store: Store, file: Path, mapping: Path) -> bool:
    """Receive a file and commit whatever waits; whether it had arrived before."""
    with Ledger.open(store.inbox) as ledger:
        (receipt,) = receive(store, ledger, [Arrival(file, mapping)])
        commit_all(store, ledger)
    return receipt.repeated
