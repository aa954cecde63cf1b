"""What was planted: machines, failures with their growth, and every disturbance's span."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass, fields
from itertools import product
from pathlib import Path

import numpy as np

from ingest_examples.generator.clock import Bools, Ints, iso
from ingest_examples.generator.model import Asset
from ingest_examples.large.columns import stop_times
from ingest_examples.large.growth import Growing
from ingest_examples.large.roster import SITE
from ingest_examples.large.scene import LargeWorld, Scene
from ingest_examples.large.sensing import is_upright, measured_online

VISIBLE_SHARE = 1.2
VISIBLE_KURTOSIS = 1.0
VISIBLE_K = 5.0
"""A damage can be seen once it alone moves a measured level by a fifth, kurtosis by 1, or the
housing by 5 K, all noise left out: our choice, and independent of zones and limits."""


@dataclass(frozen=True, slots=True)
class Row:
    """One planted thing; times are ISO 8601 texts in UTC.

    `what` is machine, failure or disturbance. Of a failure, `begins` is the onset of damage,
    `visible` the first moment at which it shows at a measured point, `ends` the failure.
    """

    what: str
    asset: str
    kind: str
    method: str
    begins: str
    ends: str
    member: str = ""
    positions: str = ""
    law: str = ""
    life_days: str = ""
    visible: str = ""
    detectable: str = ""
    detail: str = ""
    site: str = SITE.site


def _measured(scene: Scene, asset: Asset) -> list[tuple[str, str]]:
    """Positions and axes at which something of the machine is read."""
    if scene.methods[asset.asset] == "online":
        upright = is_upright(asset)
        radials = ("radial-in-line", "radial-cross") if upright else ("horizontal", "vertical")
        return list(product(measured_online(asset), ("axial", *radials)))
    stops = [s for r in scene.plant.routes for s in r.stops if s.asset == asset.asset]
    return [(s.position, s.axis) for s in stops]


def _shows(world: LargeWorld, sound: LargeWorld, asset: Asset, place: tuple[str, str]) -> Bools:
    """Where on the grid the damage alone can be seen at a position and axis."""
    now, before = world.effect(asset, *place), sound.effect(asset, *place)
    level = world.velocity(asset, *place) > VISIBLE_SHARE * sound.velocity(asset, *place)
    high = now.acceleration_factor > VISIBLE_SHARE * before.acceleration_factor
    pulses = now.kurtosis_add > before.kurtosis_add + VISIBLE_KURTOSIS
    warm = now.temperature_add > before.temperature_add + VISIBLE_K
    return np.asarray((level | high | pulses | warm) & world.state(asset.asset).running, np.bool_)


def _visible(scene: Scene, growing: Growing) -> int | None:
    """First moment at which a damage shows at a measured point [s since 1970]."""
    asset = scene.plant.asset(growing.asset)
    world, sound = scene.world(), scene.undamaged().world()
    shown = np.zeros(scene.period.grid().size, np.bool_)
    for place in _measured(scene, asset):
        shown |= _shows(world, sound, asset, place)
    at = np.flatnonzero(shown)
    return int(scene.period.grid()[at[0]]) if at.size else None


def _reading_times(scene: Scene, tag: str) -> Ints:
    """When the machine is looked at [s since 1970]; online, every hour stands for it."""
    if scene.methods[tag] == "online":
        return scene.period.grid()
    return np.concatenate([
        stop_times(scene, route, number)
        for route in scene.plant.routes
        for number, stop in enumerate(route.stops) if stop.asset == tag
    ])  # fmt: skip


def _failure(scene: Scene, growing: Growing) -> Row:
    visible = _visible(scene, growing)
    detectable = False
    if visible is not None:
        times = _reading_times(scene, growing.asset)
        between = times[(times >= visible) & (times < growing.fails)]
        running = scene.world().state(growing.asset).running
        detectable = bool(running[scene.period.index(between)].any())
    return Row(
        "failure", growing.asset, growing.kind, scene.methods[growing.asset],
        iso(growing.begins), iso(growing.fails), growing.member, " ".join(growing.positions),
        growing.law, f"{growing.life_days:g}", "" if visible is None else iso(visible),
        "yes" if detectable else "no",
    )  # fmt: skip


def _machines(scene: Scene) -> Iterator[Row]:
    for a in scene.plant.assets:
        method = scene.methods[a.asset]
        begins = iso(scene.size.watched_from(scene.period, method))
        near = "near resonance" if a.asset in scene.natural else ""
        yield Row("machine", a.asset, a.duty.pattern, method, begins, iso(scene.period.end),
                  detail=near)  # fmt: skip


def _disturbances(scene: Scene) -> Iterator[Row]:
    period = scene.period
    for f in scene.plant.faults:
        yield Row("disturbance", f.asset, f.kind, scene.methods[f.asset], iso(period.at(f.begin)),
                  iso(min(period.at(f.end), period.end)), positions=" ".join(f.positions),
                  detail=f.detail)  # fmt: skip
    for tag in scene.natural:
        yield Row("disturbance", tag, "resonance", scene.methods[tag], iso(period.start),
                  iso(period.end), detail="a natural frequency wanders near speed")  # fmt: skip
    for tag in sorted(scene.rough_when_cold):
        yield Row("disturbance", tag, "rough-when-cold", scene.methods[tag], iso(period.start),
                  iso(period.end), detail="rougher for two hours after each start")  # fmt: skip
    first = scene.plant.assets[0]
    for begin, hours in first.duty.outages:
        start = period.at(begin)
        yield Row("disturbance", "", "site-shutdown", "", iso(start),
                  iso(start + hours * 3600), detail="all machines stand")  # fmt: skip
    yield Row("disturbance", "", "season", "", iso(period.start), iso(period.end),
              detail=f"{SITE.season_drop_k:g} K colder in winter than in summer")  # fmt: skip


def rows(scene: Scene) -> list[Row]:
    """All planted things: machines, failures, disturbances."""
    failures = [_failure(scene, g) for g in scene.growing]
    return [*_machines(scene), *failures, *_disturbances(scene)]


def write(planted: list[Row], path: Path) -> None:
    """Write the truth table."""
    names = [f.name for f in fields(Row)]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(names)
        writer.writerows([getattr(row, name) for name in names] for row in planted)


def read(path: Path) -> list[Row]:
    """Read a truth table."""
    with path.open(encoding="utf-8", newline="") as file:
        return [Row(**row) for row in csv.DictReader(file)]
