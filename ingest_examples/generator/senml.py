"""Writes what edge boxes send: SenML packs (RFC 8428), one array a box and week.

Base name = the sensor, base time = the round, base unit = m/s (velocity); other
channels carry their own unit. Times inside a round are offsets in seconds.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from ingest_examples.generator.clock import DAY, Ints, iso
from ingest_examples.generator.model import EdgeSensor
from ingest_examples.generator.package import Output, Package, Truth
from ingest_examples.generator.physics import World
from ingest_examples.generator.site_cooling import UNKNOWN_UNIT_DEVICE

INTERVAL_HOURS = 6.0
UNKNOWN_UNIT = "ips"
_SOURCE = "cooling-edge"
_SITE = "district-cooling"
_INCH_MM = 25.4
_FORMS = {
    "velocity": ("", 0.001, 5),
    "acceleration": ("m/s2", 1.0, 2),
    "temperature": ("Cel", 1.0, 1),
    "speed": ("Hz", 1 / 60, 2),
    "current": ("A", 1.0, 0),
}
"""SenML unit (blank = the base unit m/s), its size in canonical units, printed digits."""


def _records(world: World, sensor: EdgeSensor, times: Ints, faulty: tuple[int, int]) -> list[str]:
    """One text a round: the sensor's records, the first with base fields."""
    columns: list[list[str]] = []
    bad = sensor.device == UNKNOWN_UNIT_DEVICE
    for at, (channel, quantity, axis) in enumerate(sensor.channels):
        unit, factor, digits = _FORMS[quantity]
        values = world.read(sensor.asset, sensor.position, axis, quantity, times)
        offset = f',"t":{at}' if at else ""
        word = f',"u":"{unit}"' if unit else ""
        texts = [
            f'"n":"{channel}"{word}{offset},"v":{v:.{digits}f}' for v in (values * factor).tolist()
        ]
        if bad and quantity == "velocity":
            inches = (values / _INCH_MM).tolist()
            for i in range(*faulty):
                texts[i] = f'"n":"{channel}","u":"{UNKNOWN_UNIT}"{offset},"v":{inches[i]:.4f}'
        columns.append(texts)
    rounds = zip(*columns, strict=True)
    return [
        ",".join(
            "{" + (f'"bn":"{sensor.device}:","bt":{t},"bu":"m/s",' if i == 0 else "") + text + "}"
            for i, text in enumerate(texts)
        )
        for t, texts in zip(times.tolist(), rounds, strict=True)
    ]


def _box(world: World, box: str, out: Output) -> None:
    period = world.period
    step = period.interval(INTERVAL_HOURS * 3600)
    times = np.arange(period.start + min(step, 600) // 2, period.end, step, dtype=np.int64)
    weeks = list(range(period.start, period.end, 7 * DAY))
    wrong_week = len(weeks) // 2
    bounds = [int(x) for x in np.searchsorted(times, [*weeks, period.end])]
    faulty = (bounds[wrong_week], bounds[wrong_week + 1])
    sensors = [s for s in world.plant.edge_sensors if s.box == box]
    texts = [_records(world, s, times, faulty) for s in sensors]
    channels = sum(len(s.channels) for s in sensors)
    for week, (a, b) in enumerate(pairwise(bounds)):
        body = ",\n".join(texts[s][i] for i in range(a, b) for s in range(len(sensors)))
        name = f"{_SITE}/{_SOURCE}/{box}_{iso(weeks[week])[:10]}.senml"
        package = Package(name, f"{_SOURCE}.toml", int(times[b - 1]) + 1800,
                          f"[{body}]\n".encode())  # fmt: skip
        package.counts["accepted"] = (b - a) * channels
        if week == wrong_week and any(s.device == UNKNOWN_UNIT_DEVICE for s in sensors):
            package.counts["accepted"] -= b - a
            package.counts["unknown-unit"] = b - a
            out.truth.append(Truth(
                "unknown-unit", "unknown-unit", f"one week of velocity under {UNKNOWN_UNIT}",
                _SITE, source=_SOURCE, device=UNKNOWN_UNIT_DEVICE, file=name,
                begin=iso(times[a]), end=iso(times[b - 1]), count=b - a,
            ))  # fmt: skip
        out.packages.append(package)


def write(world: World) -> Output:
    """All packs of the edge boxes; one pack of edge1 arrives eight days late."""
    out = Output()
    for box in sorted({s.box for s in world.plant.edge_sensors}):
        _box(world, box, out)
    late = out.packages[min(4, len(out.packages) - 1)]
    late.arrival += 8 * DAY
    late.note = "late"
    out.truth.append(Truth("late-package", "accepted", "arrives eight days late", _SITE,
                           source=_SOURCE, file=late.file))  # fmt: skip
    return out
