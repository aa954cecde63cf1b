"""A fleet with so many readings put straight into the table of a store, all invented.

Each train has a motor and a pump with five series: speed, two velocities, an acceleration and a
temperature, an hour apart. Every twentieth train worsens in the last fifty days.
"""

from __future__ import annotations

import csv
import datetime as dt
from dataclasses import dataclass
from pathlib import Path

import duckdb

from schemas.tables.readings import READINGS
from warehouse.normalise.assemble import partitions
from warehouse.query import run
from warehouse.services.registry import import_registry
from warehouse.sql import load_sql
from warehouse.store import Store, create_store
from warehouse.store.delta import Commit

SERIES = 5
END = dt.datetime(2026, 6, 20, tzinfo=dt.UTC)
_SITES = 4
_HOURS_AT_A_TIME = 250
_BEARING = {"bearing_housing": "true", "thrust_end": "false"}
_RIGID = {f"support_{way}": "rigid" for way in ("axial", "horizontal", "vertical")}


@dataclass(slots=True)
class Fleet:
    """A store, its number of trains, and how many commits were put into it."""

    store: Store
    trains: int
    given: int = 0

    @classmethod
    def make(cls, folder: Path, readings: int, series: int) -> Fleet:
        """A store with so many readings of so many series, the newest an hour before `END`."""
        store = create_store(
            folder / "store", {"clock": "data", "memory_limit_mb": 4000, "judge_whole_below": 0}
        )
        fleet = cls(store, series // SERIES)
        import_registry(store, _registry(folder / "registry", fleet.trains))
        for first in range(readings // series, 0, -_HOURS_AT_A_TIME):
            fleet.put(first, max(first - _HOURS_AT_A_TIME, 0))
        return fleet

    def put(self, first: int, last: int, trains: range | None = None, minute: int = 0) -> int:
        """Readings of some trains (else all), of the hours before `END` from first to last.

        `minute` moves them within the hour. Returns how many.
        """
        self.given += 1
        wanted = trains or range(self.trains)
        asked = {
            "first_train": wanted.start, "last_train": wanted.stop - 1, "first": first,
            "last": last, "minute": minute, "package": self.given, "end": END, "sites": _SITES,
        }  # fmt: skip
        with duckdb.connect() as session:
            session.execute("SET TimeZone = 'UTC'")
            statement = load_sql("tests.benchmarks", "judging_readings")
            rows = run(session, statement, asked, 600)
        rows = rows.set_column(
            rows.column_names.index("site"),
            "site",
            rows["site"].combine_chunks().dictionary_encode(),
        )
        log = self.store.table(READINGS)
        log.append(
            lambda: [log.write(part.rows, part.partition) for part in partitions(rows)],
            Commit("bench", self.given),
        )
        return int(rows.num_rows)


def _registry(folder: Path, trains: int) -> Path:
    folder.mkdir()
    places = [{"site": f"works-{n % _SITES + 1}", "asset": f"T-{n:04d}"} for n in range(trains)]
    sites = [
        {"site": f"works-{n + 1}", "name": f"Works {n + 1}", "time_zone": "UTC"}
        for n in range(_SITES)
    ]
    assets = [{**one, "name": one["asset"], "service_state": "in-service"} for one in places]
    members = [
        {**one, "member": member, "role": role, "equipment_class": kind, "rated_power_kw": "55",
         "rated_speed": "1480", "pump_category": category, **_RIGID}
        for one in places
        for member, role, kind, category in (
            ("motor", "driver", "electric-motor", ""), ("pump", "driven", "centrifugal-pump", "II")
        )
    ]  # fmt: skip
    points = [
        {**one, "position": f"{member}-de", "member": member, **_BEARING}
        for one in places
        for member in ("motor", "pump")
    ]
    tables = {"sites": sites, "assets": assets, "members": members, "points": points}
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            sheet = csv.DictWriter(file, rows[0])
            sheet.writeheader()
            sheet.writerows(rows)
    return folder
