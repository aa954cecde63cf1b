"""`make bench-trends`: the trends of a whole fleet as a ratio to a bare daily aggregation.

4,000 series of 90 days: one in ten rises, one in ten has a step. Ours is all of it, from daily
values to words: steps, two windows, tests over the fleet, rises that hold, times to boundaries.
The yardstick is the daily median of 24 readings a day of the same series in the same engine. Runs
go A B A B in one process; the median ratio is printed with its quartiles, beside an A/A
control. A limit is missed only if the lower quartile exceeds it. QUICK=1 makes a small cut.
"""

from __future__ import annotations

import os
import sys
import time
from collections import Counter
from collections.abc import Callable

import duckdb
import numpy as np

from tests.benchmarks.spread import Spread
from tests.warehouse.trends.fleet import fleet, work_out
from tests.warehouse.trends.series import Floats, noise
from warehouse.sql import load_sql

_QUICK = os.environ.get("QUICK") == "1"
_PAIRS = 3 if _QUICK else 9
_SERIES = 400 if _QUICK else 4000
_DAYS = 90
_A_DAY = 24
_RATIO_LIMIT = 8.0


def main() -> None:
    """Print the ratio and what was found; exit 1 where the limit is missed."""
    connection = fleet(_daily_values())
    connection.execute("SET threads = 2")
    connection.execute(load_sql("tests.benchmarks", "bare_readings"), {"a_day": _A_DAY})
    ours, bare, again = [], [], []
    for _ in range(_PAIRS):
        ours.append(_seconds(lambda: work_out(connection)))
        bare.append(_seconds(lambda: _bare(connection)))
        again.append(_seconds(lambda: _bare(connection)))
    _tell(connection, ours, bare, again)


def _daily_values() -> Floats:
    values = 2.5 + 0.08 * noise(_SERIES, _DAYS, 0.3, seed=1)
    tenth = _SERIES // 10
    values[:tenth] += 0.02 * np.arange(_DAYS)
    values[tenth : 2 * tenth, 50:] += 0.8
    return values


def _bare(connection: duckdb.DuckDBPyConnection) -> None:
    connection.execute(load_sql("tests.benchmarks", "bare_daily"))


def _seconds(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def _tell(
    connection: duckdb.DuckDBPyConnection,
    ours: list[float],
    bare: list[float],
    again: list[float],
) -> None:
    ratio = Spread.of([a / b for a, b in zip(ours, bare, strict=True)])
    control = Spread.of([a / b for a, b in zip(again, bare, strict=True)])
    states = Counter(row[0] for row in connection.sql("FROM trends SELECT state").fetchall())
    print(f"{_SERIES:,} series x {_DAYS} days, {_A_DAY} readings a day in the yardstick; seed 1")
    print(f"found: {dict(sorted(states.items()))}")
    print(f"ours, seconds: {Spread.of(ours)}")
    print(f"bare daily aggregation, seconds: {Spread.of(bare)}")
    print(f"ratio {ratio}")
    print(f"control, bare aggregation to itself: {control}")
    if ratio.low > _RATIO_LIMIT:
        sys.exit(f"missed: ratio {ratio.low:.2f} > {_RATIO_LIMIT}")


if __name__ == "__main__":
    main()
