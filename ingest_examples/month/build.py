"""Writes the registry, the exports of the gateway, walks, and the export of work orders."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from importlib.resources import files
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from ingest_examples.generator import registry, route
from ingest_examples.generator.clock import DAY, iso
from ingest_examples.generator.physics import World
from ingest_examples.month import scene
from schemas.tables.registry import ENTITIES
from warehouse.work.route_sheet import workbook

_INTERVAL = 8 * 3600
_BURST = 600
"""While a sensor is commissioned it sends that often [s]."""
_TAP = 4.0
"""A tap along the axis reads so many times what the machine does (our choice)."""
_INCH_MM = 25.4
_GRAVITY = 9.80665
_HEADER = ("sensor", "count", "time", "velocity in/s", "acceleration g", "temperature F")
_ORDER = (
    "Order;Changed;Status;Equipment;Job;Type;Severity;Failure;As found;From;To;Down h;Note",
    "4711;2025-10-31 09:12;OK;{equipment};foot;condition;incipient;potential;VIB;"
    "2025-10-30 08:00;2025-10-30 14:00;6,0;foot bolts loose at the coupling end, grouted, aligned",
)
Row = dict[str, object]


def build(out: Path) -> int:
    """Write everything below `out`; the same bytes each time. How many files that are."""
    world = World(scene.PLANT, scene.PERIOD)
    _registry(out / "registry")
    _exports(world, out / "gateway")
    _walks(world, out / "walks")
    _orders(out)
    for name in ("gateway.toml", "orders.toml"):
        source = files("ingest_examples.month") / name
        (out / name).write_text(source.read_text(encoding="utf-8"), encoding="utf-8")
    return sum(path.is_file() for path in out.rglob("*"))


def _registry(folder: Path) -> None:
    registry.write(scene.PLANT, scene.PERIOD, folder)
    sites: list[Row] = [{"site": s.site, "name": s.name, "time_zone": s.time_zone,
              "display_profile": scene.PROFILE} for s in scene.PLANT.sites]  # fmt: skip
    _table(folder, "sites", sites)
    devices: list[Row] = [
        {"device": name, "kind": "wireless one-axis sensor", "method": "wireless",
         "interval_minutes": _INTERVAL // 60}
        for name in scene.SENSORS
    ]  # fmt: skip
    meters: list[Row] = [
        {"device": r.meter, "kind": "handheld meter", "method": "route"} for r in scene.PLANT.routes
    ]
    _table(folder, "devices", [*devices, *meters])
    _table(folder, "mountings", list(_mountings()))
    for name in ("units", "installations"):
        (folder / f"{name}.csv").unlink()


def _mountings() -> Iterator[Row]:
    for name, (asset, position) in scene.SENSORS.items():
        new = name == scene.NEW_SENSOR
        for channel, axis in (("h", "horizontal"), ("t", "")):
            yield {
                "device": name, "channel": channel, "site": scene.SITE.site, "asset": asset,
                "position": position, "axis": axis,
                "mounted_from": f"{scene.MOUNTED}:00Z" if new else "2025-06-01T00:00:00Z",
                "mounting_method": "stud", "upper_frequency_hz": 10_000,
                "commissioning": "provisional" if new else "passed",
            }  # fmt: skip


def _table(folder: Path, name: str, rows: Iterable[Row]) -> None:
    columns = [column.name for column in ENTITIES[name].columns]
    with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _times(name: str, phase: int) -> list[int]:
    """When a sensor sends; a new one more often on the day it is checked."""
    period, tapped = scene.PERIOD, scene.day(scene.TAPPED)
    regular = range(period.start + 3600 + 420 * phase, period.end, _INTERVAL)
    if name != scene.NEW_SENSOR:
        return list(regular)
    burst = range(tapped - 6 * _BURST, tapped + 7 * _BURST, _BURST)
    return sorted({*burst, *(at for at in regular if at >= scene.day(scene.MOUNTED))})


def _messages(world: World) -> list[tuple[int, list[object]]]:
    found = []
    for phase, (name, (asset, position)) in enumerate(scene.SENSORS.items()):
        times = np.array(_times(name, phase), np.int64)
        velocity = world.read(asset, position, "horizontal", "velocity", times) / _INCH_MM
        tapped = (times == scene.day(scene.TAPPED)) & (name == scene.NEW_SENSOR)
        velocity = np.where(tapped, _TAP * velocity, velocity)
        hard = world.read(asset, position, "horizontal", "acceleration", times) / _GRAVITY
        warm = world.read(asset, position, "", "temperature", times) * 1.8 + 32
        for count, (at, v, a, t) in enumerate(
            zip(times.tolist(), velocity.tolist(), hard.tolist(), warm.tolist(), strict=True), 1
        ):
            found.append((at, [name, count, iso(at), f"{v:.4f}", f"{a:.3f}", f"{t:.1f}"]))
    return sorted(found)


def _exports(world: World, folder: Path) -> None:
    messages, before = _messages(world), scene.PERIOD.start
    folder.mkdir(parents=True, exist_ok=True)
    for text in scene.EXPORTS:
        until = scene.day(text)
        with (folder / f"{text}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(_HEADER)
            writer.writerows(row for at, row in messages if before <= at < until)
        before = until


def _walks(world: World, folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    zone = ZoneInfo(scene.SITE.time_zone)
    last = scene.day(scene.EXPORTS[-1])
    for one in scene.PLANT.routes:
        stops = {stop.stop: stop for stop in one.stops}
        every = {*stops}
        for number in route.days(scene.PERIOD, one):
            if scene.PERIOD.start + number * DAY >= last:
                continue
            rows = []
            for order, row in enumerate(route.walk(world, one, number, every)):
                at = row.at.astimezone(zone)
                stop = stops[row.stop]
                rows.append({
                    "Route": one.route, "Stop": row.stop, "Machine": row.machine,
                    "Position": stop.position, "Axis": stop.axis, "Meter shows":
                    "inch per second, derived-peak", "Date": f"{at:%Y-%m-%d}",
                    "Time": f"{at:%H:%M}", "Value": row.velocity,
                    "Result": "not-running" if row.velocity is None else None,
                    "Observation": scene.SEEN.get((f"{at:%Y-%m-%d}", row.stop)),
                    "Walked by": "C. Example" if order == 0 else None,
                    "Quantity": "velocity", "Detector": "derived-peak", "Band": "10-1000Hz",
                    "Unit": "[in_i]/s", "Meter": one.meter,
                })  # fmt: skip
            date = str(rows[0]["Date"])
            title = f"Route {one.route}, {one.site}, {date}"
            (folder / f"{date}.xlsx").write_bytes(workbook(rows, title))


def _orders(out: Path) -> None:
    with (out / "registry" / "members.csv").open(encoding="utf-8") as file:
        equipment = next(
            row["external_id"] for row in csv.DictReader(file)
            if (row["asset"], row["member"]) == ("P-121", "pump")
        )  # fmt: skip
    text = "\n".join(_ORDER).format(equipment=equipment) + "\n"
    (out / "orders.csv").write_text(text, encoding="utf-8")
