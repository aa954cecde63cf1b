"""`make bench-growth`: what one package costs, in a store of 1, 10 and 100 million readings.

The same plant with ever more history; the package is an hour of its newest
month, half of it sent before. Compaction is on, as in `mcw run`. The stores
take turns, so that the machine's noise meets all alike.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import numpy as np

from tests.benchmarks.logger_file import CHANNELS, make_logger_file, write_csv
from tests.benchmarks.spread import Spread
from warehouse.inbox import Ledger
from warehouse.services.housekeeping import compact
from warehouse.services.ingest import Arrival, commit_all, receive
from warehouse.services.registry import import_registry
from warehouse.store import Store, create_store

_QUICK = os.environ.get("QUICK") == "1"
_SIZES = (100_000, 1_000_000) if _QUICK else (1_000_000, 10_000_000, 100_000_000)
_ROUNDS = 9 if _QUICK else 25
_END = np.datetime64("2025-06-20T00:00:00")
_LIMIT = 1.5
_AT_A_TIME = 10_000_000
_COMPACT_EVERY = 5


@dataclass(slots=True)
class Grown:
    """A store of some size, and how many packages it has been given since."""

    store: Store
    mapping: Path
    folder: Path
    readings: int
    given: int = 0

    @classmethod
    def make(cls, folder: Path, readings: int) -> Grown:
        """A store with so many readings, the newest just before `_END`."""
        case = make_logger_file(folder / "case", CHANNELS)
        store = create_store(folder / "store")
        import_registry(store, case.registry)
        grown = cls(store, case.mapping, folder, readings)
        left = readings
        while left:
            part = min(left, _AT_A_TIME)
            grown.take_in(_END - np.timedelta64(60 * left // CHANNELS, "s"), part // CHANNELS)
            left -= part
        for _ in compact(store):
            pass
        return grown

    def take_in(self, start: np.datetime64, lines: int) -> float:
        """Seconds from a file handed over to its readings being committed."""
        path = self.folder / "package.csv"
        write_csv(path, str(start), lines, 60, "mm/s", np.random.default_rng(self.given))
        self.given += 1
        began = time.perf_counter()
        with Ledger.open(self.store.inbox) as ledger:
            receive(self.store, ledger, [Arrival(path, self.mapping)])
            commit_all(self.store, ledger)
        return time.perf_counter() - began

    def one_package(self, number: int) -> float:
        """The next half hour, and the half hour before once more."""
        return self.take_in(_END + np.timedelta64(30 * number - 30, "m"), 60)


def main() -> None:
    """Print the time of a package by size of the store; exit 1 where it is not flat."""
    with tempfile.TemporaryDirectory(prefix="bench-growth-") as folder:
        stores = [Grown.make(Path(folder) / f"{size}", size) for size in _SIZES]
        seconds: list[list[float]] = [[] for _ in stores]
        for number in range(_ROUNDS):
            for store, times in zip(stores, seconds, strict=True):
                times.append(store.one_package(number))
                if number % _COMPACT_EVERY == _COMPACT_EVERY - 1:
                    for _ in compact(store.store):
                        pass
    print(f"one package of {60 * CHANNELS:,} readings into the open month; {_ROUNDS} of each")
    missed = []
    for store, times in zip(stores, seconds, strict=True):
        ratio = Spread.of([a / b for a, b in zip(times, seconds[0], strict=True)])
        took = f"{1000 * median(times):5.0f} ms"
        print(f"store of {store.readings:>11,}: {took}, to the smallest {ratio}")
        if ratio.low > _LIMIT:
            missed.append(f"{store.readings:,} readings: {ratio.low:.2f} > {_LIMIT}")
    if missed:
        sys.exit("missed: " + "; ".join(missed))


if __name__ == "__main__":
    main()
