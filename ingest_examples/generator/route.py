"""Writes what a technician brings back from a walked route (rule W4): sheets, one row a stop.

Velocity is in/s derived peak (= sqrt(2) x rms by definition, rule R1), temperature degF.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from ingest_examples.generator.clock import DAY, Period, iso
from ingest_examples.generator.model import Route, Stop
from ingest_examples.generator.package import Output, Package, Truth
from ingest_examples.generator.physics import World
from ingest_examples.generator.sheet import csv_sheet, workbook

_REASONS = ("no access", "unsafe", "no time", "meter fault", "")
"""Why a stop was not measured (rule W4); the last is a blank without explanation."""
_NOTES = (
    "slight leak at the seal, drips",
    "guard rattles",
    "belt squeals at start",
    "oil mist around the breather",
    "noise like gravel",
    "smells warm",
)
_INCH_MM = 25.4


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a sheet; velocity in in/s derived peak, temperature in degF, None = blank."""

    stop: str
    machine: str
    location: str
    at: datetime
    velocity: float | None
    temperature: float | None
    note: str
    reason: str
    typed_date: bool = False


def _value(world: World, stop: Stop, quantity: str, at: int) -> float:
    """One reading, in the unit and digits the meter shows."""
    times = np.array([at], np.int64)
    axis = "" if quantity == "temperature" else stop.axis
    canonical = float(world.read(stop.asset, stop.position, axis, quantity, times)[0])
    spread = 1 + 0.03 * float(world.period.random("hand", stop.stop, str(at)).standard_normal())
    if quantity == "temperature":
        return round(canonical * 1.8 + 32, 1)
    return round(canonical * spread * 2**0.5 / _INCH_MM, 4)


def _row(world: World, stop: Stop, at: int, zone: ZoneInfo, always: bool) -> Row:
    """What the technician writes at one stop."""
    random = world.period.random("walk", stop.stop, str(at))
    luck, note_luck = random.random(), random.random()
    asset = world.plant.asset(stop.asset)
    blank = Row(stop.stop, f"{asset.asset} {asset.name}", stop.location,
                datetime.fromtimestamp(at, zone), None, None, "", "")  # fmt: skip
    state = world.state(stop.asset)
    if not state.running[world.period.index(np.array([at]))[0]]:
        return replace(blank, reason="not running")
    if luck < 0.08 and not always:
        return replace(blank, reason=_REASONS[int(random.integers(len(_REASONS)))])
    note = _NOTES[int(random.integers(len(_NOTES)))] if note_luck < 0.12 else ""
    return replace(
        blank,
        velocity=_value(world, stop, "velocity", at),
        temperature=_value(world, stop, "temperature", at) if stop.takes_temperature else None,
        note=note,
    )


def walk(world: World, route: Route, day: int, planted: set[str]) -> list[Row]:
    """All rows of one walk, four minutes a stop from nine in the morning."""
    zone = ZoneInfo(world.plant.site(route.site).time_zone)
    noon = datetime.fromtimestamp(world.period.start + day * DAY + DAY // 2, zone)
    first = int(noon.replace(hour=9, minute=0).timestamp())
    return [
        _row(world, stop, first + 240 * i, zone, stop.stop in planted)
        for i, stop in enumerate(route.stops)
    ]


def values(row: Row) -> int:
    """Number of values in a row."""
    return sum(1 for v in (row.velocity, row.temperature) if v is not None)


def count(rows: list[Row], package: Package, outcome: str = "accepted") -> None:
    """Add what a right reading of these rows gives; a date for a stop refuses the row as one."""
    for row in rows:
        if row.typed_date:
            package.counts["date-typed-identity"] += 1
            continue
        package.counts[outcome if row.stop else "blank-identity"] += values(row)
        package.counts["blank"] += 2 - values(row)


def _plant_raw_water(route: Route, k: int, rows: list[Row], file: str, out: Output) -> list[Row]:
    """A retake, a unit slip, a blank stop code."""

    def state(kind: str, expect: str, detail: str, row: Row, stop: Stop, n: int) -> None:
        out.truth.append(Truth(kind, expect, detail, route.site, stop.asset, stop.position,
                               route.source, route.meter, file, iso(row.at.timestamp()),
                               count=n))  # fmt: skip

    if k == 2:
        first = rows[8]
        again = replace(first, velocity=round((first.velocity or 0) * 1.11 + 0.0007, 4),
                        temperature=None, note="taken again, probe slipped before")  # fmt: skip
        state("retake", "accepted as take 2; the last counts", "stop measured twice on one walk",
              first, route.stops[8], 1)  # fmt: skip
        return [*rows[:9], again, *rows[9:]]
    if k == 3 and rows[7].velocity is not None:
        slip = replace(rows[7], velocity=round(rows[7].velocity * _INCH_MM, 2))
        state("unit-slip", "accepted; 25.4 times its siblings", "written in mm/s, column is in/s",
              slip, route.stops[7], 1)  # fmt: skip
        return [*rows[:7], slip, *rows[8:]]
    if k == 4:
        nameless = replace(rows[11], stop="")
        state("blank-stop", "blank-identity", "stop code missing", nameless, route.stops[11],
              values(nameless))  # fmt: skip
        return [*rows[:11], nameless, *rows[12:]]
    return rows


def _plant_mill(route: Route, k: int, rows: list[Row], file: str, out: Output) -> list[Row]:
    """A stop code that the spreadsheet took for a date."""
    if k != 1:
        return rows
    dated, stop = replace(rows[4], typed_date=True), route.stops[4]
    out.truth.append(Truth(
        "date-typed-stop", "date-typed-identity", "stop 3-05 became a date cell",
        route.site, stop.asset, stop.position, route.source, route.meter, file,
        iso(dated.at.timestamp()), count=1,
    ))  # fmt: skip
    return [*rows[:4], dated, *rows[5:]]


def _unexplained(route: Route, rows: list[Row], file: str, out: Output) -> None:
    blank = [r for r in rows if r.velocity is None and not r.reason]
    for row in blank:
        stop = next(s for s in route.stops if s.stop == row.stop)
        out.truth.append(Truth("unexplained-blank", "blank, unexplained", "no value, no reason",
                               route.site, stop.asset, stop.position, route.source, route.meter,
                               file, iso(row.at.timestamp()), count=1))  # fmt: skip


def _same_walk_as_csv(route: Route, rows: list[Row], file: str, out: Output) -> Package:
    """The walk again as CSV, the day after; what the workbook lost is new here."""
    package = Package(file.replace(".xlsx", ".csv"), f"{route.source}-csv.toml",
                      int(rows[-1].at.timestamp()) + DAY, csv_sheet(route, rows))  # fmt: skip
    lost = [r for r in rows if r.typed_date]
    count([r for r in rows if not r.typed_date], package, "duplicate")
    count([replace(r, typed_date=False) for r in lost], package)
    out.truth.append(Truth(
        "same-walk-twice", "duplicate", "the same walk as workbook and as CSV", route.site,
        source=route.source, device=route.meter, file=package.file,
        begin=iso(rows[0].at.timestamp()), count=package.counts["duplicate"],
    ))  # fmt: skip
    return package


def days(period: Period, route: Route) -> list[int]:
    """Days of the walks, counted from the start of the period."""
    return list(range(route.first_day, period.days, route.interval_days))


def _write(world: World, route: Route) -> Output:
    out = Output()
    mill = route.site == "board-mill"
    planted = {route.stops[4].stop, route.stops[7].stop, route.stops[8].stop, route.stops[11].stop}
    plant = _plant_mill if mill else _plant_raw_water
    for k, day in enumerate(days(world.period, route)):
        rows = walk(world, route, day, planted)
        file = f"{route.site}/{route.source}/{route.route}_{rows[0].at:%Y-%m-%d}.xlsx"
        rows = plant(route, k, rows, file, out)
        mapping = f"{route.source}-workbook.toml" if mill else f"{route.source}.toml"
        arrival = int(rows[-1].at.timestamp()) + 5 * 3600
        package = Package(file, mapping, arrival, workbook(route, rows, timed=mill))
        count(rows, package)
        _unexplained(route, rows, file, out)
        out.packages.append(package)
        if mill and k == 1:
            out.packages.append(_same_walk_as_csv(route, rows, file, out))
    return out


def write(world: World) -> Output:
    """All route sheets."""
    out = Output()
    for route in world.plant.routes:
        out.extend(_write(world, route))
    return out
