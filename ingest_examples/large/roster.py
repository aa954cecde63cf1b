"""The machines of a large site, drawn by its seed; all kinds in turn, so that none is missing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import cycle

import numpy as np

from ingest_examples.generator.clock import Period
from ingest_examples.generator.model import Asset, Duty, Site
from ingest_examples.generator.trains import fan, geared, machine, pump

SITE = Site(
    "proving-site", "Proving site (invented)", "Europe/Stockholm", 24.0, 18.0, 3.5,
    season_days=182.6,
)  # fmt: skip
_S = SITE.site
_AREAS = ("hall-1", "hall-2", "utilities", "outdoor")
_POWERS = (18.5, 30, 45, 75, 110, 160, 250, 355)
_SPEEDS = (985.0, 1485.0, 2970.0)
_SHUTDOWNS = ((0.62, 96.0), (0.86, 60.0))
"""The whole site stands: fraction of the period, hours."""


@dataclass(slots=True)
class _Draw:
    """Numbers for the next machines; each machine has its own stream of chance."""

    period: Period
    prefix: str
    number: int = 0

    def next(self) -> tuple[str, np.random.Generator]:
        """The next tag number, and chance of its own."""
        self.number += 1
        tag = f"{self.prefix}{self.number:02d}"
        return tag, self.period.random("machine", tag)


def _level(chance: np.random.Generator, median: float, most: float) -> float:
    """Velocity of a healthy machine [mm/s rms]; a spread of a quarter is common practice."""
    return float(np.round(np.clip(median * np.exp(0.27 * chance.standard_normal()), 0.5, most), 2))


def _levels(chance: np.random.Generator) -> tuple[float, float]:
    return _level(chance, 1.1, 1.8), _level(chance, 1.6, 2.5)


def _power(chance: np.random.Generator) -> float:
    return float(chance.choice(_POWERS))


def _criticality(chance: np.random.Generator) -> str:
    return str(chance.choice(["A", "B", "B", "C"]))


def _area(chance: np.random.Generator) -> str:
    return str(chance.choice(_AREAS))


def _a_pump(
    draw: _Draw,
    duty: Duty,
    *,
    vertical: bool = False,
    low: float | None = None,
    twin: str = "",
    standby: bool = False,
) -> Asset:
    number, chance = draw.next()
    speed = 985.0 if vertical else float(chance.choice(_SPEEDS))
    return pump(
        _S, f"P-{number}", f"Pump {number}", _area(chance), _criticality(chance), _power(chance),
        speed, str(chance.choice(["I", "II"])), _levels(chance),
        duty=replace(duty, load=float(chance.uniform(0.62, 0.85))), twin=twin, vertical=vertical,
        min_speed=low and low * speed, service_state="standby" if standby else "in-service",
    )  # fmt: skip


def _pair(draw: _Draw) -> list[Asset]:
    """Duty and standby, changing over; what runs shakes what stands (S2)."""
    first = _a_pump(draw, Duty("alternate-a"))
    second = _a_pump(draw, Duty("alternate-b"), twin=first.asset, standby=True)
    return [replace(first, twin=second.asset), second]


def _a_fan(draw: _Draw, duty: Duty, belt: bool) -> list[Asset]:
    number, chance = draw.next()
    speed = 1475.0
    return [fan(
        _S, f"F-{number}", f"Fan {number}", _area(chance), _criticality(chance), _power(chance),
        speed, 980.0 if belt else speed, _levels(chance), duty=duty,
    )]  # fmt: skip


def _a_geared(draw: _Draw, duty: Duty, low: float | None = None) -> list[Asset]:
    number, chance = draw.next()
    motor, driven = _levels(chance)
    return [geared(
        _S, f"G-{number}", f"Geared drive {number}", _area(chance), _criticality(chance),
        _power(chance), 1480.0, float(chance.choice([180.0, 290.0, 420.0])), ("roll", "roll"),
        (motor, _level(chance, 1.5, 2.3), driven), duty=duty, min_speed=low and low * 1480.0,
    )]  # fmt: skip


def _a_compressor(draw: _Draw) -> list[Asset]:
    number, chance = draw.next()
    return [machine(
        _S, f"K-{number}", f"Compressor {number}", _area(chance), _criticality(chance),
        _power(chance), 2970.0, ("compressor", "screw-compressor"), _levels(chance),
        duty=Duty("cycling"), hf=8.5, kurtosis=3.3,
    )]  # fmt: skip


_KINDS: tuple[Callable[[_Draw], list[Asset]], ...] = (
    _pair,
    lambda draw: _a_geared(draw, Duty()),
    lambda draw: [_a_pump(draw, Duty("demand-speed"), low=0.5)],
    lambda draw: _a_fan(draw, Duty(), belt=False),
    lambda draw: [_a_pump(draw, Duty(), vertical=True)],
    lambda draw: [_a_pump(draw, Duty("batch"))],
    lambda draw: [_a_pump(draw, Duty())],
    lambda draw: _a_fan(draw, Duty("daytime"), belt=True),
    lambda draw: _a_geared(draw, Duty("demand-speed"), low=0.6),
    lambda draw: [_a_pump(draw, Duty("demand-speed"), vertical=True, low=0.6)],
    _a_compressor,
    lambda draw: [_a_pump(draw, Duty("daytime"))],
    lambda draw: _a_geared(draw, Duty("batch")),
    lambda draw: [_a_pump(draw, Duty())],
)


def _all(draw: _Draw) -> Iterator[Asset]:
    for kind in cycle(_KINDS):
        yield from kind(draw)


def roster(period: Period, prefix: str, count: int) -> tuple[Asset, ...]:
    """So many machines, tags starting with `prefix`; both of a pair or none, one may be alone."""
    machines: list[Asset] = []
    for one in _all(_Draw(period, prefix)):
        if len(machines) == count:
            break
        machines.append(replace(one, duty=replace(one.duty, outages=_SHUTDOWNS)))
    known = {one.asset for one in machines}
    return tuple(m if m.twin in known else replace(m, twin="") for m in machines)


def natural_frequencies(period: Period, machines: tuple[Asset, ...]) -> dict[str, float]:
    """Vertical sets near resonance: natural frequency over rated speed, every second one (F2)."""
    upright = [m.asset for m in machines if any("upper" in p.position for p in m.points)]
    return {tag: float(period.random("natural", tag).uniform(1.12, 1.22)) for tag in upright[::2]}


def rough_when_cold(period: Period, machines: tuple[Asset, ...]) -> frozenset[str]:
    """About every third machine (common practice, no source)."""
    return frozenset(m.asset for m in machines if period.random("cold", m.asset).random() < 0.3)
