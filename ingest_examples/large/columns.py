"""The readings in columns: one Arrow table a source, a row a message, tag value or stop."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
import pyarrow as pa

from ingest_examples.generator.clock import DAY, Bools, Floats, Ints
from ingest_examples.generator.model import EdgeSensor, Mount, Route, Sensor
from ingest_examples.large.scene import LargeWorld, Scene

MESSAGE = ("x", "y", "z", "hf", "kurtosis", "temperature")
TAG = ("speed", "current", "status")
SHEET = ("velocity", "hf", "temperature")
_DIGITS = {"hf": 3, "kurtosis": 2, "temperature": 1, "speed": 1, "current": 1, "status": 0}
_VELOCITY_DIGITS = 3
_FIRST_STOP = 8 * 3600
_STOP_SECONDS = 150
_HAND = {"velocity": 0.05, "hf": 0.12, "temperature": 0.01}
"""What a hand adds to a reading [share]: probe place and pressure (common practice, no source)."""


def _rounded(name: str, values: Floats) -> Floats:
    return np.round(values, _DIGITS.get(name, _VELOCITY_DIGITS))


def _times(scene: Scene, device: str, begin: int, end: int, every: float) -> Ints:
    """When a device reports: at its interval, from a moment of its own."""
    step = round(every * 3600)
    offset = int(scene.period.random("phase", device).integers(step))
    first = scene.size.watched_from(scene.period, "online") + offset
    times = np.arange(first, scene.period.end, step, dtype=np.int64)
    return times[(times >= begin) & (times < end)]


def _messages(scene: Scene, world: LargeWorld, sensor: Sensor, mount: Mount) -> pa.Table:
    period = scene.period
    begin = period.start if mount.begin is None else period.at(mount.begin)
    end = period.end if mount.end is None else period.at(mount.end)
    times = _times(scene, sensor.device, begin, end, scene.size.hours)

    def read(axis: str, quantity: str) -> Floats:
        return world.read(mount.asset, mount.position, axis, quantity, times)

    radial = mount.axes[1]
    values = {
        **dict(zip("xyz", (read(axis, "velocity") for axis in mount.axes), strict=True)),
        "hf": read(radial, "acceleration"),
        "kurtosis": read(radial, "kurtosis"),
        "temperature": read("", "temperature"),
    }
    return _table(times, sensor.device, values)


def _table(times: Ints, device: str, values: dict[str, Floats]) -> pa.Table:
    columns = {name: pa.array(_rounded(name, column)) for name, column in values.items()}
    device_column = pa.array(np.full(times.size, device))
    return pa.table({"time": pa.array(times), "device": device_column, **columns})


def _tag_values(scene: Scene, world: LargeWorld, tag: EdgeSensor) -> pa.Table:
    times = _times(scene, tag.device, 0, scene.period.end, scene.size.hours)
    empty = np.full(times.size, np.nan)
    values = dict.fromkeys(TAG, empty)
    for channel, quantity, axis in tag.channels:
        values[channel] = world.read(tag.asset, tag.position, axis, quantity, times)
    return _table(times, tag.device, values)


def walks(scene: Scene, route: Route) -> Ints:
    """When each walk of a route starts [s since 1970]."""
    days = np.arange(route.first_day, scene.period.days, route.interval_days, dtype=np.int64)
    return np.asarray(scene.period.start + days * DAY + _FIRST_STOP, np.int64)


def stop_times(scene: Scene, route: Route, number: int) -> Ints:
    """When stop `number` of a route is read on each walk [s since 1970]."""
    return np.asarray(walks(scene, route) + number * _STOP_SECONDS, np.int64)


def _stops(scene: Scene, world: LargeWorld, route: Route, asset: str) -> Iterator[pa.Table]:
    """All walks past one machine; where it stands, blanks and the reason."""
    for number, stop in enumerate(route.stops):
        if stop.asset != asset:
            continue
        times = stop_times(scene, route, number)
        runs = world.state(asset).running[scene.period.index(times)]
        radial = stop.takes_temperature
        values = {
            "velocity": world.read(asset, stop.position, stop.axis, "velocity", times),
            "hf": world.read(asset, stop.position, stop.axis, "acceleration", times),
            "temperature": world.read(asset, stop.position, "", "temperature", times),
        }
        chance = scene.period.random("hand", route.route, stop.stop)
        for name, column in values.items():
            seen = runs if radial or name == "velocity" else np.zeros_like(runs)
            spread = np.exp(_HAND[name] * chance.standard_normal(times.size))
            values[name] = np.where(seen, column * spread, np.nan)
        yield _sheet(route, stop.stop, times, values, runs)


def _sheet(
    route: Route, stop: str, times: Ints, values: dict[str, Floats], runs: Bools
) -> pa.Table:
    return (
        _table(times, route.meter, values)
        .append_column("route", pa.array(np.full(times.size, route.route)))
        .append_column("stop", pa.array(np.full(times.size, stop)))
        .append_column("not_measured", pa.array(np.where(runs, "", "not running")))
    )


def _per_machine(scene: Scene, method: str) -> Iterator[tuple[str, LargeWorld]]:
    """Each machine of a method with a world of its own, so that memory stays small."""
    for asset in scene.plant.assets:
        if scene.methods[asset.asset] == method:
            yield asset.asset, scene.world()


def sources(scene: Scene) -> dict[str, pa.Table]:
    """All readings of the site, a table a source, in order of time."""
    messages: list[pa.Table] = []
    tags: list[pa.Table] = []
    sheets: list[pa.Table] = []
    for asset, world in _per_machine(scene, "online"):
        for sensor in scene.plant.sensors:
            messages += [
                _messages(scene, world, sensor, m) for m in sensor.mounts if m.asset == asset
            ]
        tags += [_tag_values(scene, world, t) for t in scene.plant.edge_sensors if t.asset == asset]
    for asset, world in _per_machine(scene, "route"):
        for route in scene.plant.routes:
            sheets += _stops(scene, world, route, asset)
    made = {"proving-sensors": messages, "proving-tags": tags, "proving-route": sheets}
    return {name: _in_order(parts) for name, parts in made.items() if parts}


def _in_order(parts: Iterable[pa.Table]) -> pa.Table:
    """Blank instead of NaN, oldest first; rows of one moment stay as they were made."""
    table = pa.concat_tables(list(parts))
    order = np.argsort(table.column("time").to_numpy(), kind="stable")
    table = table.take(pa.array(order))
    for index, field in enumerate(table.schema):
        if pa.types.is_floating(field.type):
            column = pa.array(table.column(index).to_numpy(), from_pandas=True)
            table = table.set_column(index, field.name, column)
    return table
