"""A small plant whose files come one by one, and what must hold of it after any fault."""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from schemas.columns import Table
from schemas.tables.conditions import CONDITION_LOG
from schemas.tables.readings import READINGS, SUPERSEDED
from tests.warehouse.services.small_plant import (
    Plant,
    Reading,
    make_plant,
    series,
    write_file,
    write_mapping,
)
from warehouse.inbox import Ledger
from warehouse.services.checking import check_store
from warehouse.services.ingest import Arrival, commit_all, receive
from warehouse.store import Store, open_store
from warehouse.store.history import data_files, read_history

READINGS_A_FILE = 40
SETTINGS = {
    "free_disk_mb": 0,
    "compact_files": 2,
    "commit_seconds": 0,
    "idle_seconds": 0.1,
    "threads": 1,
}


@dataclass(slots=True)
class Sent:
    """A plant, and the readings that were sent to it."""

    plant: Plant
    expected: dict[tuple[str, str, str], str] = field(default_factory=dict)

    @classmethod
    def begin(cls, folder: Path) -> Sent:
        """A plant in a new folder; nothing was sent yet."""
        return cls(make_plant(folder, SETTINGS))

    @property
    def home(self) -> Path:
        """The store's folder."""
        return self.plant.store.home

    @property
    def folder(self) -> Path:
        """Where its files are written."""
        return self.plant.folder

    @property
    def store(self) -> Store:
        """The store, opened afresh."""
        return open_store(self.home)

    @property
    def mapping(self) -> Path:
        """The mapping of its files."""
        return write_mapping(self.folder)

    def file(self, number: int, readings: Sequence[Reading] | None = None) -> Path:
        """The next file that is sent."""
        rows = readings or series(number * READINGS_A_FILE, READINGS_A_FILE)
        self.expected |= {row[:3]: row[3] for row in rows}
        return write_file(self.folder / f"f{number}.csv", rows)

    def ingest(self, *files: Path) -> list[str | Path]:
        """The command that takes files in."""
        return ["ingest", *files, "-m", self.mapping, "--home", self.home]

    def receive(self, *files: Path) -> list[int]:
        """Receive files here, and take none in; their package numbers."""
        store = self.store
        with Ledger.open(store.inbox) as ledger:
            arrivals = [Arrival(file, self.mapping) for file in files]
            return [receipt.package for receipt in receive(store, ledger, arrivals)]

    def take_in(self, *files: Path) -> list[int]:
        """Receive files here and take them in, each on its own; their package numbers."""
        numbers = []
        for file in files:
            numbers += self.receive(file)
            store = self.store
            with Ledger.open(store.inbox) as ledger:
                commit_all(store, ledger)
        return numbers

    def copied_to(self, folder: Path) -> Sent:
        """A copy elsewhere, to be looked into."""
        shutil.copytree(self.home, folder / "store")
        return Sent(Plant(open_store(folder / "store"), folder), self.expected)

    def rows(self, table: Table) -> list[dict[str, Any]]:
        """Every row of a table."""
        files = self.store.table(table).files()
        read = [pq.read_table(one.path, schema=table.arrow, partitioning=None) for one in files]
        rows: list[dict[str, Any]] = pa.concat_tables(
            [table.arrow.empty_table(), *read]
        ).to_pylist()
        return rows

    def current(self) -> dict[tuple[str, str, str], str]:
        """Printed values that count, by device, channel and time; each is there once."""
        ended = {(row["package"], row["row"]) for row in self.rows(SUPERSEDED)}
        counting = [r for r in self.rows(READINGS) if (r["package"], r["row"]) not in ended]
        found = {
            (r["device"], r["channel"], _minute(r["ts"])): f"{r['value']:.2f}" for r in counting
        }
        assert len(found) == len(counting), "something counts twice"
        return found

    def check(self) -> None:
        """All that was sent counts, once; the store is sound; no change is told twice."""
        assert self.current() == self.expected
        assert check_store(self.store).findings == []
        with Ledger.open(self.store.inbox) as ledger:
            assert ledger.pending() == []
            for package in ledger.packages():
                assert package.counts.accounted == package.counts.items
        self.check_changes()
        self.check_files()

    def check_changes(self) -> None:
        """Each change begins at the level where the one before it at its place ended."""
        level: dict[tuple[Any, ...], str] = {}
        for row in sorted(self.rows(CONDITION_LOG), key=lambda one: one["seq"]):
            place = tuple(
                row[name] for name in ("scope", "site", "asset", "member", "position", "axis")
            )
            assert row["level_from"] == level.get(place), row
            level[place] = row["level_to"]

    def check_files(self) -> None:
        """Nothing half lies about, and no data file that no commit names."""
        assert leftovers(self.home) == []
        for folder in sorted(self.store.tables.iterdir()):
            history = read_history(folder)
            known = history.added | history.removed.keys()
            assert set(data_files(folder)) <= known


def _minute(moment: dt.datetime) -> str:
    return f"{moment:%Y-%m-%dT%H:%M}"


def leftovers(home: Path) -> list[Path]:
    """What a program that failed should have cleared away."""
    half = ("arriving-*", "work-*", "*.making", "unfinished.toml")
    return sorted(path for pattern in half for path in home.rglob(pattern))
