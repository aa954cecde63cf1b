"""What a planted condition does to the readings of a position (rules F2, J3, J13, S3).

Shapes over time are common practice, no source, unless a rule is named.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ingest_examples.generator.clock import Bools, Floats, Period, correlated
from ingest_examples.generator.model import Fault

UNBALANCE = {"axial": 0.2, "horizontal": 1.0, "vertical": 0.8}
MISALIGNMENT = {"axial": 1.0, "horizontal": 0.95, "vertical": 0.5}
OTHER = {"axial": 0.5, "horizontal": 1.0, "vertical": 0.75}
"""Velocity by direction over that of the strongest, by what causes it."""


@dataclass(slots=True)
class Effect:
    """On the grid: added velocity [mm/s rms], factors [1], added kurtosis [1], warmth [K]."""

    velocity_add: Floats
    velocity_factor: Floats
    acceleration_factor: Floats
    kurtosis_add: Floats
    temperature_add: Floats


def no_effect(count: int) -> Effect:
    """An effect of nothing, on a grid of so many steps."""
    zero, one = np.zeros(count), np.ones(count)
    return Effect(zero, one, one.copy(), zero.copy(), zero.copy())


def axis_share(shares: dict[str, float], axis: str) -> float:
    """The share of an axis; on a vertical shaft both radials are strong."""
    if axis.startswith("radial"):
        return 1.0 if axis != "radial-cross" else 0.8
    return shares.get(axis, 1.0)


def _bearing_wear(effect: Effect, fault: Fault, axis: str, p: Floats, own: float) -> None:
    """High frequency first, kurtosis up then down, velocity in the last fifth (F2, J3)."""
    effect.acceleration_factor *= 1 + own * 7.0 * p**1.2
    effect.kurtosis_add += own * 7.5 * np.exp(-(((p - 0.5) / 0.2) ** 2)) * (p > 0)
    late = np.clip((p - 0.8) / 0.2, 0, 1)
    share = axis_share(OTHER, axis)
    effect.velocity_add += own * fault.size * share * (0.05 * (late > 0) + 0.95 * late)
    effect.temperature_add += own * 9.0 * np.clip((p - 0.7) / 0.3, 0, 1)


def _unbalance(effect: Effect, fault: Fault, axis: str, p: Floats, speed_share: Floats) -> None:
    """Once-per-turn velocity as speed squared, growing slowly (F2)."""
    effect.velocity_add += fault.size * axis_share(UNBALANCE, axis) * p**1.2 * speed_share**2


def _misalignment(effect: Effect, fault: Fault, axis: str, on: Bools, position: str) -> None:
    """A step at the coupling, axial strong, with some warmth."""
    share = axis_share(MISALIGNMENT, axis) * (0.55 if position.startswith("motor") else 1.0)
    effect.velocity_add += fault.size * share * on
    effect.temperature_add += 4.0 * on


def _soft_foot(
    effect: Effect, fault: Fault, axis: str, p: Floats, random: np.random.Generator
) -> None:
    """Looseness: grows and jumps about."""
    jump = np.exp(0.08 * correlated(random, p.size, 10))
    effect.velocity_add += fault.size * axis_share(OTHER, axis) * p**0.5 * jump


def _cavitation(effect: Effect, fault: Fault, on: Bools, random: np.random.Generator) -> None:
    """Broad noise: high frequency up threefold, some velocity, for a spell (F2)."""
    rough = np.exp(0.2 * correlated(random, on.size, 6))
    effect.acceleration_factor *= np.where(on, 3.2 * rough, 1.0)
    effect.velocity_add += np.where(on, fault.size * rough, 0.0)
    effect.kurtosis_add += np.where(on, 0.8, 0.0)


def _regreasing(effect: Effect, fault: Fault, hours: Floats) -> None:
    """A hump of 14-17 K that rises in hours and settles within 48 h (J13; standards 1.8)."""
    since = np.clip(hours, 0, None)
    hump = (1 - np.exp(-since / 1.5)) * np.exp(-since / 20.0)
    effect.temperature_add += fault.size * hump / 0.76 * (hours >= 0)
    effect.acceleration_factor *= np.where(hours >= 0, 1 - 0.3 * np.exp(-since / 400), 1.0)


def _loose_sensor(effect: Effect, fault: Fault, on: Bools, random: np.random.Generator) -> None:
    """A loose mounting reads low and erratic (J9)."""
    drop = fault.size * np.exp(0.5 * correlated(random, on.size, 3))
    effect.velocity_factor *= np.where(on, drop, 1.0)
    effect.acceleration_factor *= np.where(on, drop, 1.0)


def effect_at(
    period: Period,
    faults: Iterable[Fault],
    position: str,
    axis: str,
    speed_share: Floats,
) -> Effect:
    """All effects of an asset's faults on one position and axis, on the grid."""
    grid = period.grid()
    effect = no_effect(grid.size)
    for fault in faults:
        own = 1.0 if position in fault.positions else 0.0
        if fault.kind == "bearing-wear" and not own:
            same_member = position.split("-")[0] == fault.positions[0].split("-")[0]
            own = 0.25 if same_member else 0.0
        if not own:
            continue
        begin, end = period.at(fault.begin), period.at(fault.end)
        p = np.clip((grid - begin) / max(1, end - begin), 0, 1)
        if fault.mended_at is not None:
            p = np.where(grid < period.at(fault.mended_at), p, 0.0)
        on = np.asarray((grid >= begin) & (grid < end + 1), np.bool_)
        random = period.random("fault", fault.kind, fault.asset, position, axis)
        match fault.kind:
            case "bearing-wear":
                _bearing_wear(effect, fault, axis, p, own)
            case "unbalance":
                _unbalance(effect, fault, axis, p, speed_share)
            case "misalignment":
                _misalignment(effect, fault, axis, np.asarray(grid >= begin), position)
            case "soft-foot":
                _soft_foot(effect, fault, axis, p, random)
            case "cavitation":
                _cavitation(effect, fault, on, random)
            case "regreasing":
                _regreasing(effect, fault, np.asarray((grid - begin) / 3600, np.float64))
            case "loose-sensor":
                _loose_sensor(effect, fault, on, random)
            case "new-unit":
                effect.velocity_factor *= np.where(grid >= begin, fault.size, 1.0)
                effect.acceleration_factor *= np.where(grid >= begin, 0.85, 1.0)
            case _:  # standing, smooth, stopped, no-limits: the machine itself is so
                pass
    return effect
