"""`make bench-thirty-days`: a commit a minute from twenty sites, on day one and day thirty.

Every minute each site hands over a small file and one commit takes them all;
compaction runs every five minutes, vacuum and tidying every day, as `mcw run`
does. The first hours are lived through commit by commit. Then the clock is
put forward: the readings of the days between are taken in by day, and the log
and the ledger are given what those days' commits leave behind: log entries up
to `log_days` old, replaced files remembered for the retention, packages,
their lives and their commits. Then the thirtieth day's hours are lived
through. HOURS=24 lives through whole days.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import sqlite3
import sys
import tempfile
import time
import uuid
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median, quantiles

from deltalake import CommitProperties, DeltaTable, Transaction
from deltalake.transaction import RemoveAction

from schemas.tables.readings import READINGS
from warehouse.inbox import Ledger
from warehouse.services.housekeeping import compact, compress_payloads, vacuum
from warehouse.services.ingest import Arrival, commit_all, receive
from warehouse.services.registry import import_registry
from warehouse.services.status import store_status
from warehouse.sql import load_statements
from warehouse.store import Store, create_store
from warehouse.store.history import log_files
from warehouse.store.snapshot import publish

_HOURS = float(os.environ.get("HOURS", "0.5" if os.environ.get("QUICK") == "1" else "3"))
_SITES = 20
_SENSORS = 10
_MINUTES_A_DAY = 1440
_COMPACT_MINUTES = 5
_START = dt.datetime(2025, 6, 1)
_SQL = load_statements("tests.benchmarks", "thirty_days")

_MAPPING = """format_version = 1
name = "minutes"
[source]
id = "gateways"
adapter = "delimited"
method = "wireless"
[time]
from = "time"
zone = "UTC"
[record]
device = { from = "device" }
channel = "1"
quantity = "velocity"
detector = "rms"
unit = "mm/s"
band = "10-1000Hz"
[[measure]]
from = "value"
"""


def main() -> None:
    """Print files and times of the first and the thirtieth day; exit 1 where they grew."""
    with tempfile.TemporaryDirectory(prefix="bench-thirty-days-") as folder:
        plant = Plant.make(Path(folder))
        print(f"{_SITES} sites, {_SENSORS} sensors each, a commit a minute, {_HOURS:g} h a day")
        first = plant.live(day=1)
        print(first)
        plant.put_forward()
        last = plant.live(day=30)
        print(last)
    growth = last.commit_ms / first.commit_ms
    print(f"commit time of day 30 to day 1: {growth:.2f}")
    most = plant.store.settings.compact_files + _COMPACT_MINUTES
    if growth > 1.5 or last.most_files > most:
        sys.exit(f"missed: it grows, or a partition has more than {most} files")


@dataclass(slots=True)
class Day:
    """What one day's commits cost, and what they left."""

    day: int
    commits: list[float] = field(default_factory=list)
    receipts: list[float] = field(default_factory=list)
    compactions: list[float] = field(default_factory=list)
    files: list[int] = field(default_factory=list)
    log_entries: int = 0
    packages: int = 0
    status: float = 0.0

    @property
    def commit_ms(self) -> float:
        """Median commit."""
        return 1000 * median(self.commits)

    @property
    def most_files(self) -> int:
        """Most files any partition ever had."""
        return max(self.files)

    def __str__(self) -> str:
        tail = 1000 * quantiles(self.commits, n=100)[98]
        return (
            f"day {self.day:>2}: commit {self.commit_ms:.0f} ms (p99 {tail:.0f}), receipt of "
            f"{_SITES} files {1000 * median(self.receipts):.0f} ms, compaction "
            f"{1000 * median(self.compactions):.0f} ms (worst {1000 * max(self.compactions):.0f})\n"
            f"        files a partition {median(self.files):.0f} (most {self.most_files}), log "
            f"{self.log_entries:,} entries, ledger {self.packages:,} packages, "
            f"status {1000 * self.status:.0f} ms"
        )


@dataclass(slots=True)
class Plant:
    """The plant, its store, and the files its gateways hand over."""

    folder: Path
    store: Store

    @classmethod
    def make(cls, folder: Path) -> Plant:
        """A new store with every sensor registered."""
        write_registry(folder / "registry")
        (folder / "gateways.toml").write_text(_MAPPING, encoding="utf-8")
        store = create_store(folder / "store")
        import_registry(store, folder / "registry")
        return cls(folder, store)

    def live(self, day: int) -> Day:
        """The hours of a day, minute by minute."""
        found = Day(day)
        start = _START + dt.timedelta(days=day - 1)
        with Ledger.open(self.store.inbox) as ledger:
            for minute in range(int(60 * _HOURS)):
                now = start + dt.timedelta(minutes=minute)
                files = [self._hand_over(site, [now]) for site in range(_SITES)]
                began = time.perf_counter()
                receive(self.store, ledger, files)
                received = time.perf_counter()
                commit_all(self.store, ledger)
                committed = time.perf_counter()
                found.receipts.append(received - began)
                found.commits.append(committed - received)
                if minute % _COMPACT_MINUTES == 0:
                    self._compact(ledger)
                    found.compactions.append(time.perf_counter() - committed)
                    found.files += self._files()
            found.packages = len(ledger.packages())
        found.log_entries = len(log_files(self.store.table(READINGS).root))
        began = time.perf_counter()
        store_status(self.store)
        found.status = time.perf_counter() - began
        return found

    def _compact(self, ledger: Ledger) -> None:
        for _ in compact(self.store):
            pass
        compress_payloads(self.store, ledger)

    def _files(self) -> list[int]:
        files = self.store.table(READINGS).files()
        return list(Counter(file.path.parent for file in files).values())

    def _hand_over(self, site: int, times: list[dt.datetime]) -> Arrival:
        path = self.folder / f"site{site:02d}.csv"
        lines = [
            f"{now:%Y-%m-%dT%H:%M:%S},{_device(site, n)},{2 + (n + now.minute) % 50 / 100:.2f}\n"
            for now in times
            for n in range(_SENSORS)
        ]
        path.write_text("time,device,value\n" + "".join(lines), encoding="utf-8")
        return Arrival(path, self.folder / "gateways.toml")

    def put_forward(self) -> None:
        """To the thirtieth day, with all that the commits of the days between leave behind."""
        with Ledger.open(self.store.inbox) as ledger:
            for day in range(1, 29):
                start = _START + dt.timedelta(days=day)
                times = [start + dt.timedelta(minutes=m) for m in range(_MINUTES_A_DAY)]
                receive(self.store, ledger, [self._hand_over(s, times) for s in range(_SITES)])
                commit_all(self.store, ledger)
            self._compact(ledger)
        publish(self.store, dt.datetime.now(dt.UTC))
        self._age_log(self._age_ledger())
        self.store = Store(self.store.home, self.store.settings)
        vacuum(self.store, really=True)

    def _age_log(self, made: Transaction) -> None:
        """Files replaced within the retention, and an entry a minute of the last `log_days`."""
        log = self.store.table(READINGS)
        now = int(time.time() * 1000)
        replaced = self.store.settings.retention_days * _MINUTES_A_DAY * _SITES
        table = DeltaTable(log.root)
        table.create_write_transaction(
            [_replaced(n, now) for n in range(replaced)], "append", READINGS.arrow_with_partitions,
            partition_by=list(READINGS.partition_by),
            commit_properties=CommitProperties(app_transactions=[made]),
        )  # fmt: skip
        version = DeltaTable(log.root).version()
        entry = json.dumps({"commitInfo": {"timestamp": now, "operation": "WRITE"}}) + "\n"
        for number in range(self.store.settings.log_days * _MINUTES_A_DAY):
            name = f"{version + 1 + number:020d}.json"
            (log.root / "_delta_log" / name).write_text(entry, encoding="utf-8")
        DeltaTable(log.root).create_checkpoint()

    def _age_ledger(self) -> Transaction:
        """Packages and their commits; the last of these, as the tables are to know it."""
        days = 28 * _MINUTES_A_DAY
        with sqlite3.connect(self.store.inbox / "ledger.sqlite") as ledger:
            (seq,) = ledger.execute("SELECT max(seq) + 1 FROM packages").fetchone()
            (first,) = ledger.execute("SELECT max(number) + 1 FROM groups").fetchone()
            values = {"each": days, "seq": seq, "first": first}
            for name in ("packages", "groups", "members"):
                ledger.execute(_SQL[name], values)
            (inbox,) = ledger.execute("SELECT inbox_id FROM inbox").fetchone()
            (last,) = ledger.execute("SELECT max(number) FROM groups").fetchone()
        ledger.close()
        return Transaction(inbox, last)


def _replaced(number: int, now: int) -> RemoveAction:
    partition: dict[str, str | None] = {"p_site": _site(number % _SITES), "p_month": "2025-06"}
    path = f"p_site={partition['p_site']}/p_month=2025-06/part-{uuid.uuid4().hex}.parquet"
    return RemoveAction(path, False, now, size=9_000, partition_values=partition)


def _site(number: int) -> str:
    return f"site{number:02d}"


def _device(site: int, number: int) -> str:
    return f"sensor-{site:02d}-{number:02d}"


def write_registry(folder: Path) -> None:
    """One machine a site, one point a sensor. Invented."""
    folder.mkdir()
    sites = [_site(n) for n in range(_SITES)]
    places = [(s, n) for s in range(_SITES) for n in range(_SENSORS)]
    files = {
        "sites": ["site,name,time_zone", *(f"{s},Site,UTC" for s in sites)],
        "assets": [
            "site,asset,name,service_state",
            *(f"{s},M-1,Machine,in-service" for s in sites),
        ],
        "members": [
            "site,asset,member,role,equipment_class,rated_power_kw",
            *(f"{s},M-1,motor,driver,electric-motor,100" for s in sites),
        ],
        "points": [
            "site,asset,position,member,bearing_housing,thrust_end",
            *(f"{_site(s)},M-1,motor-p{n:02d},motor,true,false" for s, n in places),
        ],
        "devices": [
            "device,kind,method",
            *(f"{_device(s, n)},sensor,wireless" for s, n in places),
        ],
        "mountings": [
            "device,channel,site,asset,position,axis,mounted_from,commissioning",
            *(
                f"{_device(s, n)},1,{_site(s)},M-1,motor-p{n:02d},horizontal,"
                "2000-01-01T00:00:00Z,passed"
                for s, n in places
            ),
        ],
    }
    for name, lines in files.items():
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
