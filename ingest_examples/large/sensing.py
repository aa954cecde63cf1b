"""What measures the machines: wireless sensors, process tags, walked routes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ingest_examples.generator.clock import DAY, Period
from ingest_examples.generator.model import (
    HORIZONTAL_AXES,
    VERTICAL_AXES,
    Asset,
    EdgeSensor,
    Fault,
    Mount,
    Route,
    Sensor,
    Stop,
)
from ingest_examples.large.roster import SITE
from ingest_examples.large.size import Size

SENSORS, TAGS, SHEETS = "proving-sensors", "proving-tags", "proving-route"
"""The three sources; each has the mapping of its name."""
_SWAPPED = 0.12
"""Share of sensors replaced by another of its kind (common practice, no source)."""
_ROUTES = 4
_INTERVAL_DAYS = 28


def is_upright(asset: Asset) -> bool:
    """A vertical set has axes of its own (M6)."""
    return any(p.position == "motor-lower" for p in asset.points)


def measured_online(asset: Asset) -> list[str]:
    """Positions with a sensor: every bearing of critical machines, else about one a member."""
    everywhere = [p.position for p in asset.points]
    if asset.criticality == "A":
        return everywhere
    return [p for p in everywhere if not p.endswith(("-nde", "motor-upper", "gear-out"))]


def _sensors(period: Period, size: Size, asset: Asset) -> Iterator[Sensor]:
    """One sensor a position; where it was swapped, two after one another."""
    axes = VERTICAL_AXES if is_upright(asset) else HORIZONTAL_AXES
    first = size.watched_from(period, "online")
    for position in measured_online(asset):
        chance = period.random("sensor", asset.asset, position)
        begin = (first - period.start) / (period.days * DAY)
        code = f"S-{chance.integers(16**5):05X}-{asset.asset}"
        whole = Sensor(
            code, SENSORS, (Mount(asset.asset, position, axes, begin),), None, ("battery",)
        )
        if chance.random() > _SWAPPED:
            yield whole
            continue
        at = begin + float(chance.uniform(0.2, 0.9)) * (1 - begin)
        yield replace(whole, mounts=(replace(whole.mounts[0], end=at),))
        yield replace(whole, device=f"{code}-2", mounts=(replace(whole.mounts[0], begin=at),))


def swaps(period: Period, sensors: tuple[Sensor, ...]) -> tuple[Fault, ...]:
    """The other sensor reads a little differently: a step of some per cent (R3)."""
    found = []
    for sensor in sensors:
        mount = sensor.mounts[0]
        if sensor.device.endswith("-2") and mount.begin is not None:
            size = float(period.random("swap", sensor.device).uniform(0.9, 1.1))
            found.append(Fault(
                "sensor-swap", mount.asset, (mount.position,), mount.begin, 1.0, round(size, 3),
                f"replaced by sensor {sensor.device}: same mounting, its own calibration", "",
            ))  # fmt: skip
    return tuple(found)


def _tag(period: Period, asset: Asset) -> EdgeSensor | None:
    """Speed of variable machines, current or status of most others; of some, nothing (S1)."""
    position = "motor-lower" if is_upright(asset) else "motor-de"
    chance = period.random("tag", asset.asset).random()
    if asset.members[0].min_speed:
        channel = ("speed", "speed", "")
    elif chance < 0.4:
        channel = ("current", "current", "")
    elif chance < 0.75:
        channel = ("status", "running-status", "")
    else:
        return None
    return EdgeSensor(f"tags-{asset.asset}", "process", asset.asset, position, (channel,))


def online(
    period: Period, size: Size, machines: tuple[Asset, ...]
) -> tuple[tuple[Sensor, ...], tuple[EdgeSensor, ...]]:
    """Sensors and process tags of the machines measured online."""
    sensors = tuple(s for asset in machines for s in _sensors(period, size, asset))
    tags = tuple(tag for asset in machines if (tag := _tag(period, asset)))
    return sensors, tags


def _stops(asset: Asset, number: int) -> Iterator[Stop]:
    """A radial direction at every bearing, and along the shaft at thrust bearings."""
    radial = "radial-in-line" if is_upright(asset) else "horizontal"
    for place, point in enumerate(asset.points, start=1):
        stop = f"{number:02d}-{place}"
        yield Stop(stop, asset.asset, point.position, radial, True, f"{point.position}, radial")
        if point.thrust_end:
            yield Stop(f"{stop}A", asset.asset, point.position, "axial", False,
                       f"{point.position}, along the shaft")  # fmt: skip


def routes(machines: tuple[Asset, ...]) -> tuple[Route, ...]:
    """Four routes, each walked every four weeks, one a week."""
    found = []
    for k in range(_ROUTES):
        own = machines[k::_ROUTES]
        stops = tuple(s for i, asset in enumerate(own, start=1) for s in _stops(asset, i))
        if stops:
            first = 2 + 7 * k
            found.append(Route(f"PS-R{k + 1}", SHEETS, SITE.site, f"METER-{k + 1}",
                               _INTERVAL_DAYS, first, stops))  # fmt: skip
    return tuple(found)
