"""A wide logger file of any size, and the registry and mapping that read it. Invented data."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv

CHANNELS = 20
START = "2016-01-01T00:00:00"


@dataclass(frozen=True, slots=True)
class LoggerFile:
    """Where a case's files lie, and its size."""

    csv: Path
    mapping: Path
    registry: Path
    readings: int


def make_logger_file(
    folder: Path,
    readings: int,
    unit: str = "mm/s",
    months: int | None = None,
    seed: int = 1,
    start: str = START,
) -> LoggerFile:
    """A CSV of `readings` values in CHANNELS columns: one line a minute, or spread over `months`.

    Values wander slowly around 2 mm/s with noise, printed as such devices print
    them: two decimals in mm/s, four in in/s.
    """
    folder.mkdir(parents=True, exist_ok=True)
    lines = readings // CHANNELS
    step = 60 if months is None else months * 30 * 86_400 // lines
    case = LoggerFile(folder / "logger.csv", folder / "logger.toml", folder / "registry", readings)
    write_csv(case.csv, start, lines, step, unit, np.random.default_rng(seed))
    case.mapping.write_text(_mapping(unit), encoding="utf-8")
    _write_registry(case.registry)
    return case


def split_in_packages(case: LoggerFile, number: int) -> None:
    """The same lines as `number` small files, in a folder `parts` beside the CSV."""
    header, *lines = case.csv.read_text(encoding="utf-8").splitlines(keepends=True)
    parts = case.csv.parent / "parts"
    parts.mkdir()
    size = -(-len(lines) // number)
    for index in range(number):
        body = "".join(lines[index * size : (index + 1) * size])
        (parts / f"part-{index:04d}.csv").write_text(header + body, encoding="utf-8")


def write_csv(
    path: Path, start: str, lines: int, step: int, unit: str, random: np.random.Generator
) -> None:
    """A logger's CSV: so many lines, `step` seconds apart."""
    times = np.datetime64(start) + np.arange(lines) * np.timedelta64(step, "s")
    columns: dict[str, pa.Array] = {"time": pa.array(times.astype("datetime64[s]").astype(str))}
    for channel in range(1, CHANNELS + 1):
        drift = 2 + 0.4 * np.sin(np.arange(lines) / 700 + channel)
        values = np.abs(drift + random.normal(0, 0.12, lines))
        printed = np.round(values / 25.4, 4) if unit == "[in_i]/s" else np.round(values, 2)
        columns[f"ch{channel:02d}"] = pa.array(printed)
    pyarrow.csv.write_csv(pa.table(columns), path)


def _mapping(unit: str) -> str:
    head = f"""format_version = 1
name = "bench-logger"

[source]
id = "bench-logger"
adapter = "delimited"
method = "wired"

[time]
from = "time"
zone = "UTC"

[record]
device = "logger-1"
quantity = "velocity"
detector = "rms"
unit = "{unit}"
band = "10-1000Hz"
"""
    blocks = (f'\n[[measure]]\nfrom = "ch{c:02d}"\nchannel = "{c:02d}"\n' for c in _channels())
    return head + "".join(blocks)


def _channels() -> range:
    return range(1, CHANNELS + 1)


def _write_registry(folder: Path) -> None:
    folder.mkdir(exist_ok=True)
    files = {
        "sites": ["site,name,time_zone", "bench,Bench,UTC"],
        "assets": ["site,asset,name,service_state", "bench,M-1,Machine,in-service"],
        "members": [
            "site,asset,member,role,equipment_class,rated_power_kw",
            "bench,M-1,motor,driver,electric-motor,100",
        ],
        "points": ["site,asset,position,member,bearing_housing,thrust_end"]
        + [f"bench,M-1,motor-p{c:02d},motor,true,false" for c in _channels()],
        "devices": ["device,kind,method", "logger-1,wired logger,wired"],
        "mountings": ["device,channel,site,asset,position,axis,mounted_from,commissioning"]
        + [
            f"logger-1,{c:02d},bench,M-1,motor-p{c:02d},horizontal,2000-01-01T00:00:00Z,passed"
            for c in _channels()
        ],
    }
    for name, lines in files.items():
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
