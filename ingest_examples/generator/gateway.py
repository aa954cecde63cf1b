"""Writes what wireless gateways send: JSON documents, or one JSON document a line.

A message holds one reading of a three-axis sensor: acceleration [g rms], velocity
[in/s rms], kurtosis, temperature [degF], battery [%], and a message counter.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ingest_examples.generator import gateway_dirt as dirt
from ingest_examples.generator.clock import DAY, Bools, Floats, Ints, iso
from ingest_examples.generator.message import Message, Parts, document, lines
from ingest_examples.generator.model import Mount, Sensor
from ingest_examples.generator.package import Output, Package, Truth
from ingest_examples.generator.physics import World
from ingest_examples.generator.site_raw_water import UNKNOWN_DEVICE

INTERVAL_HOURS = 8.0
_GRAVITY = 9.80665
_INCH_MM = 25.4
_WEEK = 7 * DAY


def _mounted(world: World, mount: Mount, times: Ints) -> Bools:
    begin = world.period.at(mount.begin) if mount.begin is not None else 0
    end = world.period.at(mount.end) if mount.end is not None else 2**62
    return np.asarray((times >= begin) & (times < end), np.bool_)


def _values(world: World, sensor: Sensor, axis_at: int, quantity: str, times: Ints) -> Floats:
    """Canonical readings of one axis of the sensor, wherever it sits at each time."""
    site = world.plant.asset(sensor.mounts[0].asset).site
    out = world.bag(quantity, times, f"{sensor.device}{axis_at}", site)
    for mount in sensor.mounts:
        axis = "" if axis_at < 0 else mount.axes[axis_at]
        here = _mounted(world, mount, times)
        out[here] = world.read(mount.asset, mount.position, axis, quantity, times[here])
    return out


def _battery(world: World, sensor: Sensor, times: Ints) -> Ints:
    """Battery charge [%]: a slow fall; a dying sensor falls to 2 % before its end.

    Common practice, no source.
    """
    p = world.period.fraction(times)
    first = world.period.random("battery", sensor.device).uniform(84, 99)
    charge = first - 4.0 * p
    if sensor.dies_at is not None:
        left = np.clip((sensor.dies_at - p) / 0.44, 0, 1)
        charge = np.minimum(charge, 2 + (first - 2) * left**1.4)
    return np.asarray(np.floor(charge), np.int64)


def _times(world: World, sensor: Sensor) -> Ints:
    """When the sensor measures: its interval, its phase, some jitter [s since 1970]."""
    period = world.period
    step = period.interval(INTERVAL_HOURS * 3600)
    random = period.random("times", sensor.device)
    count = (period.end - period.start) // step
    jitter = random.integers(-step // 240 - 1, step // 240 + 1, count)
    times = period.start + int(step * random.uniform(0.1, 0.9)) + step * np.arange(count) + jitter
    last = period.end if sensor.dies_at is None else period.at(sensor.dies_at)
    return np.unique(times[(times >= period.start) & (times < last)]).astype(np.int64)


def messages(world: World, sensor: Sensor) -> list[Message]:
    """All messages of one sensor, in the order measured."""
    times = _times(world, sensor)
    texts: list[tuple[list[str], list[str], list[str]]] = []
    for axis in range(3):
        acceleration = _values(world, sensor, axis, "acceleration", times) / _GRAVITY
        velocity = _values(world, sensor, axis, "velocity", times) / _INCH_MM
        kurtosis = _values(world, sensor, axis, "kurtosis", times)
        texts.append((
            [f"{v:.3f}" for v in acceleration.tolist()],
            [f"{v:.4f}" for v in velocity.tolist()],
            [f"{v:.2f}" for v in kurtosis.tolist()],
        ))  # fmt: skip
    fahrenheit = _values(world, sensor, -1, "temperature", times) * 1.8 + 32
    battery = _battery(world, sensor, times).tolist()
    mounted = np.any([_mounted(world, m, times) for m in sensor.mounts], axis=0).tolist()
    known = sensor.device != UNKNOWN_DEVICE
    first = int(world.period.random("counter", sensor.device).integers(900, 60_000))
    return [
        Message(
            sensor.device, first + i, t, t + 40,
            tuple((a[i], v[i], k[i]) for a, v, k in texts),
            f"{fahrenheit[i]:.1f}", battery[i],
            "unknown-device" if not known else "accepted" if mounted[i] else "not-mounted",
            len(sensor.unregistered_channels),
        )
        for i, t in enumerate(times.tolist())
    ]  # fmt: skip


Render = Callable[[int, list[Message]], bytes]


def _weekly(world: World, site: str, source: str, rows: list[Message], render: Render) -> Parts:
    """Weekly exports that each begin a day before the last one ended."""
    suffix = "json" if render is document else "ndjson"
    out: Parts = []
    for begin in range(world.period.start, world.period.end, _WEEK):
        end = min(begin + _WEEK, world.period.end)
        until = end + (DAY if end == world.period.end else 0)
        part = [m for m in rows if begin - DAY <= m.delivered < until]
        exported = end + 2 * 3600
        name = f"{site}/{source}/{iso(begin)[:10]}_week.{suffix}"
        out.append((Package(name, f"{source}.toml", exported + 60, render(exported, part)), part))
    return out


def _source(world: World, source: str, render: Render) -> Output:
    sensors = [s for s in world.plant.sensors if s.source == source]
    site = world.plant.asset(sensors[0].mounts[0].asset).site
    rows = [m for s in sensors for m in messages(world, s)]
    out = Output()
    if render is document:
        stranger = Sensor(UNKNOWN_DEVICE, source, sensors[2].mounts)
        rows += messages(world, stranger)
    rows = dirt.late(world.period, site, source, rows, out)
    rows.sort(key=lambda m: (m.delivered, m.device))
    parts = _weekly(world, site, source, rows, render)
    if render is document:
        dirt.spoil_documents(world.period, site, source, parts, rows, out)
    else:
        dirt.spoil_lines(site, source, parts, out)
    out.packages += [package for package, _ in parts]
    return out


def _sensor_truth(world: World, out: Output) -> None:
    """State what is planted in the sensors themselves."""
    period = world.period
    for s in world.plant.sensors:
        first = s.mounts[0]
        site = world.plant.asset(first.asset).site
        if s.dies_at is not None:
            out.truth.append(Truth(
                "silent", "silent machine: keeps its level, then unknown",
                "sensor died, its battery fell before", site, first.asset, first.position,
                s.source, s.device, begin=iso(period.at(s.dies_at)), end=iso(period.end),
            ))  # fmt: skip
        if len(s.mounts) > 1:
            out.truth.append(Truth(
                "moved-sensor", "not-mounted",
                f"moved to {s.mounts[1].asset}; messages between the two mountings", site,
                first.asset, first.position, s.source, s.device,
                begin=iso(period.at(first.end or 0)), end=iso(period.at(s.mounts[1].begin or 1)),
            ))  # fmt: skip
        for channel in s.unregistered_channels:
            out.truth.append(Truth(
                "unregistered-channel", "unknown-channel", f"channel {channel} has no mounting",
                site, first.asset, first.position, s.source, s.device,
            ))  # fmt: skip


def write(world: World) -> Output:
    """All files of the wireless gateways."""
    out = _source(world, "raw-water-gateway", document)
    out.extend(_source(world, "mill-gateway", lines))
    _sensor_truth(world, out)
    return out
