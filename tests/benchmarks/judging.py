"""`make bench-judge`: judging as a ratio to a bare daily aggregation of the same readings.

10 million hourly readings of 4,000 series on 800 trains. Judged anew: everything, file to
published state. A refresh: what `mcw judge` does after 10,000 new readings, of the trains of
one gateway within the last two days; of all trains within the last hours; and late ones of one
gateway that lie further back, reported apart. The yardstick rolls the same readings up by day:
count, median, least, greatest, first, last, in the same engine with the same threads.

Runs take turns, in one process; the median ratio is printed with its quartiles, in seconds by the
clock and in seconds of processor, beside an A/A control. A limit is missed only if the lower
quartile exceeds it. QUICK=1 makes a small cut.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from tests.benchmarks.judging_fleet import END, SERIES, Fleet
from tests.benchmarks.spread import Spread
from warehouse.query import open_base
from warehouse.services.judging import judge_store
from warehouse.sql import load_sql

_QUICK = os.environ.get("QUICK") == "1"
_READINGS, _SERIES = (500_000, 400) if _QUICK else (10_000_000, 4_000)
_NEW = 10_000
_ANEW, _REFRESHED = (2, 3) if _QUICK else (3, 9)
_LATE_DAYS = 30
_LIMITS = {"judged anew": 3.0, "refresh, one gateway": 0.15}


@dataclass(slots=True)
class Timed:
    """Seconds of each run, by the clock and of the processor."""

    clock: list[float] = field(default_factory=list)
    processor: list[float] = field(default_factory=list)

    def run(self, work: Callable[[], object]) -> None:
        """Time one run."""
        clock, processor = time.perf_counter(), time.process_time()
        work()
        self.clock.append(time.perf_counter() - clock)
        self.processor.append(time.process_time() - processor)


def main() -> None:
    """Print the ratios; exit 1 where a limit is missed."""
    with tempfile.TemporaryDirectory(prefix="bench-judge-") as folder:
        fleet = Fleet.make(Path(folder), _READINGS, _SERIES)
        print(f"{_READINGS:,} readings, {_SERIES:,} series, {fleet.trains} trains", flush=True)
        cases: dict[str, list[tuple[Timed, Timed]]] = {}
        control = Timed()
        for _ in range(_ANEW):
            _pair(fleet, cases, "judged anew", lambda: judge_store(fleet.store, anew=True))
            control.run(lambda: _bare(fleet))
        for number in range(_REFRESHED):
            for name, put in _arrivals(fleet, number):
                put()
                _pair(fleet, cases, name, lambda: judge_store(fleet.store))
        _tell(cases, control)


def _arrivals(fleet: Fleet, number: int) -> list[tuple[str, Callable[[], int]]]:
    """What comes in before each refresh: some ten thousand readings, at a minute of their own."""
    gateway = range(fleet.trains // 20)
    hours = _NEW // (SERIES * len(gateway))
    all_hours = -(-_NEW // (SERIES * fleet.trains))
    minute, back, late = 3 * number, 24 * _LATE_DAYS, f"refresh, {_LATE_DAYS} days late"
    return [
        ("refresh, one gateway", partial(fleet.put, hours, 0, gateway, minute + 1)),
        ("refresh, all trains", partial(fleet.put, all_hours, 0, None, minute + 2)),
        (late, partial(fleet.put, back, back - hours, gateway, minute)),
    ]


def _pair(
    fleet: Fleet,
    cases: dict[str, list[tuple[Timed, Timed]]],
    name: str,
    work: Callable[[], object],
) -> None:
    ours, bare = Timed(), Timed()
    ours.run(work)
    bare.run(lambda: _bare(fleet))
    cases.setdefault(name, []).append((ours, bare))


def _bare(fleet: Fleet) -> None:
    with open_base(fleet.store, {}, END) as session:
        session.execute(load_sql("tests.benchmarks", "judging_bare"))


def _tell(cases: dict[str, list[tuple[Timed, Timed]]], control: Timed) -> None:
    anew = [bare for _, bare in cases["judged anew"]]
    missed = []
    for name, pairs in cases.items():
        clock = Spread.of([a.clock[0] / b.clock[0] for a, b in pairs])
        processor = Spread.of([a.processor[0] / b.processor[0] for a, b in pairs])
        ours = Spread.of([a.processor[0] for a, _ in pairs])
        print(f"{name}: {ours.middle:.1f} s of processor; ratio {processor}, by the clock {clock}")
        if name in _LIMITS and processor.low > _LIMITS[name]:
            missed.append(f"{name}: {processor.low:.2f} > {_LIMITS[name]}")
    again = Spread.of([a / b.processor[0] for a, b in zip(control.processor, anew, strict=True)])
    bare = Spread.of([one.processor[0] for one in anew])
    print(f"bare aggregation: {bare.middle:.1f} s of processor; to itself {again}")
    if missed:
        sys.exit("missed: " + "; ".join(missed))


if __name__ == "__main__":
    main()
