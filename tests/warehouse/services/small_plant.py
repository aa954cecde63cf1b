"""A plant of one machine, its logger file in a few lines, and what the dataset says of it."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from tests.warehouse.views.plant import keep_as_tables
from warehouse.inbox import Ledger, Package
from warehouse.query import open_session, run, words
from warehouse.services.ingest import Arrival, commit_all, receive
from warehouse.services.judging import judged_now
from warehouse.services.registry import import_registry
from warehouse.settings import FILE_NAME, render_file
from warehouse.store import Store, create_store, open_store

MAPPING = """format_version = 1
name = "logger"

[source]
id = "logger"
adapter = "delimited"
method = "wired"

[time]
from = "time"
zone = "UTC"

[values]
null = ["", "--"]

[record]
device = { from = "device" }
channel = { from = "channel" }
quantity = "velocity"
detector = "rms"
unit = "mm/s"
band = "10-1000Hz"

[[measure]]
from = "value"
"""

REGISTRY: Mapping[str, str] = {
    "sites": "site,name,time_zone\nworks,Works,Europe/Vienna\n",
    "assets": "site,asset,name,service_state\nworks,M-1,Machine 1,in-service\n"
    "works,M-2,Machine 2,in-service\n",
    "members": "site,asset,member,role,equipment_class,rated_power_kw,support_horizontal\n"
    "works,M-1,motor,driver,electric-motor,90,rigid\n"
    "works,M-2,motor,driver,electric-motor,90,rigid\n",
    "points": "site,asset,position,member,bearing_housing,thrust_end\n"
    "works,M-1,motor-de,motor,true,true\nworks,M-2,motor-de,motor,true,true\n",
    "devices": "device,kind,method\nL1,logger,wired\n",
    "mountings": "device,channel,site,asset,position,axis,mounted_from,commissioning\n"
    "L1,1,works,M-1,motor-de,horizontal,2020-01-01T00:00:00Z,passed\n"
    "L1,2,works,M-1,motor-de,vertical,2020-01-01T00:00:00Z,passed\n",
}

Reading = tuple[str, str, str, str]
"""Device, channel, time and printed value."""


def write_registry(folder: Path, **replaced: str) -> Path:
    """Registry files of the small plant, some replaced."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in {**REGISTRY, **replaced}.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def write_mapping(folder: Path, text: str = MAPPING) -> Path:
    """The logger's mapping file."""
    path = folder / "logger.toml"
    path.write_text(text, encoding="utf-8")
    return path


def write_file(path: Path, readings: Iterable[Reading]) -> Path:
    """A file as the logger writes it."""
    lines = ["device,channel,time,value", *(",".join(reading) for reading in readings)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@dataclass(frozen=True, slots=True)
class Plant:
    """A store with the small plant registered, and the folder its files are written to."""

    store: Store
    folder: Path

    def arrive(self, name: str, readings: Iterable[Reading]) -> Arrival:
        """A file ready to be received."""
        return Arrival(write_file(self.folder / name, readings), write_mapping(self.folder))

    def ingest(self, *files: Iterable[Reading]) -> list[Package]:
        """Receive files one after the other, commit, and return their packages."""
        with Ledger.open(self.store.inbox) as ledger:
            arrivals = [self.arrive(f"f{n}.csv", readings) for n, readings in enumerate(files)]
            receipts = receive(self.store, ledger, arrivals)
            commit_all(self.store, ledger)
            return [ledger.package(receipt.package) for receipt in receipts]

    def ask(self, statement: str) -> list[dict[str, Any]]:
        """Rows of a query over the newest of each table."""
        with open_session(self.store, {}, judged_now(self.store), asks=[statement]) as session:
            keep_as_tables(session, *words(statement))
            rows: list[dict[str, Any]] = run(session, statement).to_pylist()
        return rows

    def current(self) -> list[tuple[str, str, str, float]]:
        """Device, channel, time and value of each reading that counts."""
        rows = self.ask("SELECT device, channel, ts, value FROM readings_current ORDER BY ALL")
        return [
            (row["device"], row["channel"], f"{row['ts']:%Y-%m-%dT%H:%M}", row["value"])
            for row in rows
        ]


_ALONE = {"threads": 1}
"""Tests run beside each other, and there is little to work on."""


@cache
def _template() -> TemporaryDirectory[str]:
    """A store with the small plant, made once a test process and copied from then on."""
    folder = TemporaryDirectory(prefix="small-plant-")
    home = Path(folder.name)
    import_registry(create_store(home / "store"), write_registry(home / "registry"))
    return folder


def make_plant(folder: Path, settings: Mapping[str, Any] | None = None) -> Plant:
    """A new store below `folder` with the small plant in its registry."""
    folder.mkdir(parents=True, exist_ok=True)
    home = folder / "store"
    shutil.copytree(Path(_template().name) / "store", home)
    (home / FILE_NAME).write_text(render_file(_ALONE | dict(settings or {})), encoding="utf-8")
    return Plant(open_store(home), folder)


def copy_plant(home: Path, folder: Path) -> Plant:
    """A plant of its own below `folder`, with all that the store at `home` holds."""
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copytree(home, folder / "store")
    return Plant(open_store(folder / "store"), folder)


def stamp(minute: int) -> str:
    """A time of the plant's history, so many minutes after its beginning."""
    return f"2025-06-{1 + minute // 1440:02d}T{minute // 60 % 24:02d}:{minute % 60:02d}"


def series(first: int, number: int, channel: str = "1", value: float = 2.0) -> list[Reading]:
    """Readings a minute apart with two printed decimals."""
    return [("L1", channel, stamp(first + n), f"{value + n / 100:.2f}") for n in range(number)]
