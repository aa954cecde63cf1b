"""Writes the registry: one CSV an entity, columns as the open schema lists them."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ingest_examples.generator.clock import DAY, Period, iso
from ingest_examples.generator.gateway import INTERVAL_HOURS as WIRELESS_HOURS
from ingest_examples.generator.logger import INTERVAL_HOURS as LOGGER_HOURS
from ingest_examples.generator.model import Plant
from ingest_examples.generator.plant import ENTERPRISE
from ingest_examples.generator.senml import INTERVAL_HOURS as EDGE_HOURS
from schemas.tables.registry import ENTITIES

Row = dict[str, object]


@dataclass(frozen=True, slots=True)
class Hours:
    """Declared intervals between the readings of each kind of device [h]."""

    wireless: float = WIRELESS_HOURS
    logger: float = LOGGER_HOURS
    edge: float = EDGE_HOURS


_WIRELESS_CHANNELS = ("x", "y", "z", "temperature", "battery")
_MOUNTED_DAYS_BEFORE = 76
_UPPER_HZ = {"stud": 10_000, "adhesive": 7_000, "flat-magnet": 5_000, "built-in": ""}
"""Usable upper frequency by mounting method [Hz] (rule M7, from memory)."""


def _time(period: Period, fraction: float | None, blank: str = "") -> str:
    return blank if fraction is None else iso(period.at(fraction))


def _sites(plant: Plant) -> Iterator[Row]:
    for s in plant.sites:
        yield {"site": s.site, "name": s.name, "time_zone": s.time_zone, "enterprise": ENTERPRISE}


def _assets(plant: Plant, before: str) -> Iterator[Row]:
    pairs = [sorted((a.asset, a.twin)) for a in plant.assets if a.twin]
    groups = {tag: "/".join(pair) for pair in pairs for tag in pair}
    for i, a in enumerate(plant.assets, start=1):
        yield {
            "site": a.site, "asset": a.asset, "name": a.name, "area": a.area,
            "criticality": a.criticality, "service_state": a.service_state,
            "service_from": before, "external_id": f"FL-{40_000 + 7 * i}",
            "duty_group": groups.get(a.asset, ""),
        }  # fmt: skip


def _members(plant: Plant) -> Iterator[Row]:
    number = 700_000
    for a in plant.assets:
        for m in a.members:
            number += 13
            yield {
                "site": a.site, "asset": a.asset, "member": m.member, "role": m.role,
                "equipment_class": m.equipment_class, "rated_power_kw": m.power_kw,
                "shaft_height_mm": m.shaft_height_mm, "support_axial": m.support[0],
                "support_horizontal": m.support[1], "support_vertical": m.support[2],
                "pump_type": m.pump_type, "pump_category": m.pump_category,
                "vane_count": m.vane_count, "rated_speed": m.rated_speed,
                "min_speed": m.min_speed and round(m.min_speed, 1), "max_speed": m.max_speed,
                "drive": m.drive, "supply": m.supply, "external_id": f"EQ-{number}",
                "assumed": " ".join(m.assumed),
            }  # fmt: skip


def _units(plant: Plant) -> Iterator[Row]:
    for u in plant.units:
        yield {
            "serial": u.serial, "equipment_class": u.equipment_class,
            "description": u.description, "bearing_de": u.bearing_de, "bearing_nde": u.bearing_nde,
        }  # fmt: skip


def _installations(plant: Plant, period: Period, before: str) -> Iterator[Row]:
    for u in plant.units:
        for tag, member, begin, end in u.stays:
            yield {
                "serial": u.serial, "site": plant.asset(tag).site, "asset": tag,
                "member": member, "installed_from": _time(period, begin, before),
                "installed_to": _time(period, end),
            }  # fmt: skip


def _shafts(plant: Plant) -> Iterator[Row]:
    for a in plant.assets:
        for s in a.shafts:
            yield {
                "site": a.site, "asset": a.asset, "shaft": s.shaft, "ratio": s.ratio,
                "reference_shaft": s.reference, "assumed": " ".join(s.assumed),
            }  # fmt: skip


def _points(plant: Plant) -> Iterator[Row]:
    for a in plant.assets:
        for p in a.points:
            yield {
                "site": a.site, "asset": a.asset, "position": p.position, "member": p.member,
                "shaft": p.shaft, "bearing_housing": str(p.bearing_housing).lower(),
                "thrust_end": str(p.thrust_end).lower(), "bearing": p.bearing,
            }  # fmt: skip


def _devices(plant: Plant, period: Period, every: Hours) -> Iterator[Row]:
    def row(device: str, kind: str, method: str, hours: float) -> Row:
        minutes = round(hours * 60 / period.scale, 3)
        return {"device": device, "kind": kind, "method": method, "interval_minutes": minutes}

    for s in plant.sensors:
        yield row(s.device, "wireless three-axis sensor", "wireless", every.wireless)
    for logger in plant.loggers:
        yield row(logger.device, "wired logger", "wired", every.logger)
    for e in plant.edge_sensors:
        yield row(e.device, "sensor of an edge box", "wired", every.edge)
    for r in plant.routes:
        yield row(r.meter, "handheld meter", "route", r.interval_days * 24 * period.scale)


def _mount(
    plant: Plant,
    device: str,
    channel: str,
    tag: str,
    position: str,
    axis: str,
    begin: str,
    end: str = "",
    method: str = "stud",
    passed: str = "passed",
) -> Row:
    """One mounting; every channel that is to be accepted needs one."""
    return {
        "device": device, "channel": channel, "site": plant.asset(tag).site, "asset": tag,
        "position": position, "axis": axis, "mounted_from": begin, "mounted_to": end,
        "mounting_method": method, "upper_frequency_hz": _UPPER_HZ[method],
        "commissioning": passed,
    }  # fmt: skip


def _mountings(plant: Plant, period: Period, before: str) -> Iterator[Row]:
    for s in plant.sensors:
        for m in s.mounts:
            axes = dict(zip("xyz", m.axes, strict=True))
            for channel in _WIRELESS_CHANNELS:
                if channel not in s.unregistered_channels:
                    yield _mount(
                        plant, s.device, channel, m.asset, m.position, axes.get(channel, ""),
                        _time(period, m.begin, before), _time(period, m.end), m.method,
                        m.commissioning,
                    )  # fmt: skip
    for logger in plant.loggers:
        for c in logger.columns:
            method = "stud" if c.axis else "built-in"
            yield _mount(plant, logger.device, c.channel, c.asset, c.position, c.axis, before,
                         method=method)  # fmt: skip
    for e in plant.edge_sensors:
        for channel, _, axis in e.channels:
            method = "stud" if axis else "built-in"
            yield _mount(plant, e.device, channel, e.asset, e.position, axis, before, method=method)


def _routes(plant: Plant) -> Iterator[Row]:
    for r in plant.routes:
        for order, s in enumerate(r.stops, start=1):
            yield {
                "route": r.route, "stop": s.stop, "walk_order": order, "site": r.site,
                "asset": s.asset, "position": s.position, "axis": s.axis,
                "interval_days": r.interval_days, "mounting_method": "two-pole-magnet",
                "window_days": 3, "meter": r.meter, "quantity": "velocity",
                "detector": "derived-peak", "band": "10-1000Hz", "unit": "[in_i]/s",
                "temperature_unit": "[degF]" if s.takes_temperature else "",
            }  # fmt: skip


def write(plant: Plant, period: Period, folder: Path, every: Hours | None = None) -> None:
    """Write all registry files; columns and their order come from the open schema."""
    before = iso(period.start - _MOUNTED_DAYS_BEFORE * DAY)
    tables = {
        "sites": _sites(plant),
        "assets": _assets(plant, before),
        "members": _members(plant),
        "units": _units(plant),
        "installations": _installations(plant, period, before),
        "shafts": _shafts(plant),
        "points": _points(plant),
        "devices": _devices(plant, period, every or Hours()),
        "mountings": _mountings(plant, period, before),
        "routes": _routes(plant),
    }
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in tables.items():
        columns = [c.name for c in ENTITIES[name].columns]
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
            writer.writeheader()
            writer.writerows({k: "" if v is None else v for k, v in r.items()} for r in rows)
