"""What looks like damage and is none (rule F2): drawn for every machine, sound or failing."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ingest_examples.generator.clock import DAY, Period
from ingest_examples.generator.model import Asset, Fault, Unit
from ingest_examples.large.growth import Growing
from ingest_examples.large.size import Size

_GREASED_EVERY_DAYS = (80, 150)
_CAVITATES = 0.35
_LOOSE = 0.12
_EXCHANGED = 0.1
"""Shares of machines (common practice, no source)."""


def _fault(
    period: Period, kind: str, asset: str, positions: tuple[str, ...], begins: float, days: float,
    size: float, detail: str,
) -> Fault:  # fmt: skip
    def part(moment: float) -> float:
        return (moment - period.start) / (period.days * DAY)

    end = min(begins + days * DAY, float(period.end))
    return Fault(kind, asset, positions, part(begins), part(end), round(size, 3), detail, "")


def _cavitation(
    period: Period, asset: Asset, first: int, chance: np.random.Generator
) -> Iterator[Fault]:
    """Some spells of hours to days on some pumps."""
    is_pump = any(m.equipment_class == "centrifugal-pump" for m in asset.members)
    if not is_pump or chance.random() > _CAVITATES:
        return
    positions = tuple(p.position for p in asset.points if p.member == "pump")
    for _ in range(int(chance.integers(1, 5))):
        begins = float(chance.uniform(first, period.end - 5 * DAY))
        yield _fault(period, "cavitation", asset.asset, positions, begins,
                     float(chance.uniform(0.2, 4.0)), float(chance.uniform(0.4, 1.6)),
                     "low suction head for a while: broad noise")  # fmt: skip


def _greasing(
    period: Period, asset: Asset, first: int, chance: np.random.Generator
) -> Iterator[Fault]:
    """The motor's bearings in turn with the calendar; a hump of two days (J13)."""
    positions = tuple(p.position for p in asset.points if p.member == "motor")
    moment = first + float(chance.uniform(5, 100)) * DAY
    while moment < period.end - 3 * DAY:
        warmth = float(chance.uniform(10.0, 17.0))
        yield _fault(period, "regreasing", asset.asset, positions, moment, 2.0, warmth,
                     "warm for two days after greasing")  # fmt: skip
        moment += float(chance.uniform(*_GREASED_EVERY_DAYS)) * DAY


def _loose_sensor(
    period: Period, asset: Asset, first: int, chance: np.random.Generator
) -> Iterator[Fault]:
    if chance.random() > _LOOSE:
        return
    position = str(chance.choice([p.position for p in asset.points]))
    begins = float(chance.uniform(first + 20 * DAY, period.end - 25 * DAY))
    yield _fault(period, "loose-sensor", asset.asset, (position,), begins,
                 float(chance.uniform(2.0, 20.0)), float(chance.uniform(0.3, 0.7)),
                 "the mounting is loose: reads low and erratic until it is fixed")  # fmt: skip


def disturbances(
    period: Period, size: Size, methods: dict[str, str], machines: tuple[Asset, ...]
) -> tuple[Fault, ...]:
    """All disturbances that come and go."""
    found: list[Fault] = []
    for asset in machines:
        method = methods[asset.asset]
        first = size.watched_from(period, method)
        chance = period.random("disturb", asset.asset)
        found += _cavitation(period, asset, first, chance)
        found += _greasing(period, asset, first, chance)
        if method == "online":
            found += _loose_sensor(period, asset, first, chance)
    return tuple(found)


def exchanges(
    period: Period, size: Size, methods: dict[str, str], machines: tuple[Asset, ...],
    growing: tuple[Growing, ...],
) -> tuple[tuple[Fault, ...], tuple[Unit, ...]]:  # fmt: skip
    """Sound motors exchanged for spares by the calendar: another level, and the registry knows."""
    failing = {g.asset for g in growing}
    faults: list[Fault] = []
    units: list[Unit] = []
    for asset in machines:
        chance = period.random("exchange", asset.asset)
        if asset.asset in failing or chance.random() > _EXCHANGED:
            continue
        first = size.watched_from(period, methods[asset.asset])
        begins = float(chance.uniform(first + 60 * DAY, period.end - 60 * DAY))
        positions = tuple(p.position for p in asset.points if p.member == "motor")
        fault = _fault(period, "new-unit", asset.asset, positions, begins,
                       (period.end - begins) / DAY, float(chance.uniform(0.75, 1.3)),
                       "the motor was exchanged for a spare: its own level")  # fmt: skip
        faults.append(fault)
        units += _units(asset, fault)
    return tuple(faults), tuple(units)


def _units(asset: Asset, fault: Fault) -> Iterator[Unit]:
    power = asset.members[0].power_kw
    stays = {"01": (None, fault.begin), "02": (fault.begin, None)}
    for number, (since, until) in stays.items():
        stay = (asset.asset, "motor", since, until)
        yield Unit(f"EX-{asset.asset}-{number}", "electric-motor", f"{power:g} kW (invented)",
                   "", "", (stay,))  # fmt: skip
