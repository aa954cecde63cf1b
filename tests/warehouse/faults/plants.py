"""A small plant whose files come one by one, and what must hold of it after any fault."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

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
from warehouse.store import Store, open_store

READINGS_A_FILE = 40


@dataclass(slots=True)
class Sent:
    """A plant, and the readings that were sent to it."""

    plant: Plant
    expected: dict[tuple[str, str, str], str] = field(default_factory=dict)

    @classmethod
    def begin(cls, folder: Path) -> Sent:
        """A plant in a new folder; nothing was sent yet."""
        return cls(make_plant(folder, {"clock": "data", "free_disk_mb": 0}))

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

    def file(self, number: int, readings: Sequence[Reading] | None = None) -> Path:
        """The next file that is sent."""
        rows = readings or series(number * READINGS_A_FILE, READINGS_A_FILE)
        self.expected |= {row[:3]: row[3] for row in rows}
        return write_file(self.folder / f"f{number}.csv", rows)

    def ingest(self, *files: Path) -> list[str | Path]:
        """The command that takes files in."""
        return ["ingest", *files, "-m", write_mapping(self.folder), "--home", self.home]

    def copied_to(self, folder: Path) -> Sent:
        """A copy elsewhere, to be looked into."""
        shutil.copytree(self.home, folder / "store")
        return Sent(Plant(open_store(folder / "store"), folder), self.expected)

    def check(self) -> None:
        """All that was sent counts, once; the store is sound; no change is told twice."""
        plant = Plant(self.store, self.folder)
        found = plant.current()
        assert {row[:3]: f"{row[3]:.2f}" for row in found} == self.expected
        assert len(found) == len(self.expected)
        assert check_store(plant.store).findings == []
        with Ledger.open(plant.store.inbox) as ledger:
            assert ledger.pending() == []
            for package in ledger.packages():
                assert package.counts.accounted == package.counts.items
        assert _broken_chains(plant) == []
        assert leftovers(self.home) == []


def _broken_chains(plant: Plant) -> list[dict[str, object]]:
    """Changes that begin at another level than the one before them at the place ended at."""
    return plant.ask(
        "SELECT * FROM (SELECT *, lag(level_to) OVER (PARTITION BY scope, site, asset, member,"
        " position, axis ORDER BY seq) AS before FROM condition_log)"
        " WHERE before IS DISTINCT FROM level_from"
    )


def leftovers(home: Path) -> list[Path]:
    """What a program that failed should have cleared away."""
    half = ("arriving-*", "work-*", "*.making", "*.json.tmp", "unfinished.toml")
    return sorted(path for pattern in half for path in home.rglob(pattern))
