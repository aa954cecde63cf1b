"""`make bench-ratio`: our whole pipeline as a ratio to a bare copy of the same file.

Runs go A B A B, each in a process of its own; the median ratio is printed with
its quartiles, beside an A/A control that shows the noise of this machine. A
limit is missed only if the lower quartile exceeds it. QUICK=1 makes a small cut.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyarrow.parquet as pq

from tests.benchmarks.logger_file import make_logger_file, split_in_packages
from tests.benchmarks.spread import Spread

_QUICK = os.environ.get("QUICK") == "1"
_PAIRS = 3 if _QUICK else 9
_READINGS = 200_000 if _QUICK else 2_000_000
_SMALL_PACKAGES = 50 if _QUICK else 500
_RATIO_LIMIT = 1.5
_PEAK_LIMIT_MIB = 1024
_BYTES_LIMIT = {"mm/s": 2.5, "[in_i]/s": 4.0}


def main() -> None:
    """Print ratio, peak memory and size on disk; exit 1 where a limit is missed."""
    with tempfile.TemporaryDirectory(prefix="bench-ingest-") as folder:
        missed = [line for case in _cases(Path(folder)) for line in case]
    if missed:
        sys.exit("missed: " + "; ".join(missed))


def _cases(folder: Path) -> Iterator[list[str]]:
    plain = make_logger_file(folder / "plain", _READINGS).csv.parent
    yield _ratio("one file", plain)
    small = make_logger_file(folder / "small", _READINGS)
    split_in_packages(small, _SMALL_PACKAGES)
    yield _ratio(f"{_SMALL_PACKAGES} small packages", small.csv.parent)
    yield _again(plain)
    yield _memory("ten times the rows", make_logger_file(folder / "ten", 10 * _READINGS).csv.parent)
    spread = make_logger_file(folder / "spread", _READINGS, months=36).csv.parent
    yield _memory("36 partitions in one file", spread)
    yield _size("mm/s", plain)
    inches = make_logger_file(folder / "inches", _READINGS, unit="[in_i]/s").csv.parent
    yield _size("[in_i]/s", inches)


def _run(kind: str, case: Path, work: Path | None = None) -> dict[str, Any]:
    with tempfile.TemporaryDirectory(dir=case) as own:
        command = [
            sys.executable,
            "-m",
            "tests.benchmarks.child",
            kind,
            str(case),
            str(work or own),
        ]
        done = subprocess.run(command, check=True, capture_output=True, text=True)
    result: dict[str, Any] = json.loads(done.stdout)
    return result


def _ratio(name: str, case: Path) -> list[str]:
    _run("ours", case)
    _run("bare", case)
    ours, bare, again = [], [], []
    for pair in range(_PAIRS):
        ours.append(_run("ours", case)["seconds"])
        bare.append(_run("bare", case)["seconds"])
        again.append(_run("bare", case)["seconds"])
        _say(f"pair {pair + 1} of {_PAIRS}: ours {ours[-1]:.2f} s, bare copy {bare[-1]:.2f} s")
    ratio = Spread.of([a / b for a, b in zip(ours, bare, strict=True)])
    control = Spread.of([a / b for a, b in zip(again, bare, strict=True)])
    print(f"{name}: {_READINGS:,} readings; seed 1")
    print(f"ratio {ratio}")
    print(f"control, bare copy to itself: {control}")
    return [f"{name}: ratio {ratio.low:.2f} > {_RATIO_LIMIT}"] if ratio.low > _RATIO_LIMIT else []


def _again(case: Path) -> list[str]:
    """Copies must cost no more to find than readings cost to take in."""
    runs = [_run("again", case) for _ in range(3)]
    ratio = Spread.of([run["seconds"] / run["first"] for run in runs])
    print(f"the same rows again in another file, to the first time: {ratio}")
    return [f"again {ratio.low:.2f} > 1"] if ratio.low > 1 else []


def _memory(name: str, case: Path) -> list[str]:
    result = _run("ours", case)
    peak = result["peak_mib"]
    print(f"peak memory, {name}: {peak:,.0f} MiB for {result['accepted']:,} readings")
    return [f"{name}: {peak:.0f} MiB > {_PEAK_LIMIT_MIB}"] if peak > _PEAK_LIMIT_MIB else []


def _size(unit: str, case: Path) -> list[str]:
    with tempfile.TemporaryDirectory(dir=case) as own:
        accepted = _run("ours", case, Path(own))["accepted"]
        files = sorted((Path(own) / "store" / "tables" / "readings").rglob("*.parquet"))
        total = sum(path.stat().st_size for path in files) / accepted
        print(f"size on disk, source in {unit}: {total:.2f} bytes a reading, of which")
        for name, size in _by_column(files):
            print(f"  {name:<14} {size / accepted:6.3f}")
    limit = _BYTES_LIMIT[unit]
    return [f"{unit}: {total:.2f} bytes a reading > {limit}"] if total > limit else []


def _by_column(files: list[Path]) -> list[tuple[str, int]]:
    sizes: dict[str, int] = {}
    for path in files:
        metadata = pq.ParquetFile(path).metadata
        for group in range(metadata.num_row_groups):
            for index in range(metadata.num_columns):
                column = metadata.row_group(group).column(index)
                name = column.path_in_schema
                sizes[name] = sizes.get(name, 0) + column.total_compressed_size
    return sorted(sizes.items(), key=lambda item: -item[1])


def _say(text: str) -> None:
    sys.stderr.write(text + "\n")


if __name__ == "__main__":
    main()
