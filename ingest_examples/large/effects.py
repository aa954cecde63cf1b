"""What growing damage and slow wandering do to the readings of a position (rules F2, J3, J13).

Shares of neighbouring points and shapes over life are common practice, no source.
"""

from __future__ import annotations

import numpy as np

from ingest_examples.generator.clock import DAY, GRID_STEP, Floats, Period, correlated
from ingest_examples.generator.faults import MISALIGNMENT, OTHER, UNBALANCE, Effect, axis_share
from ingest_examples.large.growth import LAWS, Growing

LATE = 0.8
"""Share of a bearing's life after which velocity moves: the last fifth (F2)."""
_WANDER_DAYS = 30
_DAMPING = 0.05
_ELSEWHERE = {
    "bearing-wear": (0.3, 0.08),
    "unbalance": (1.0, 0.35),
    "misalignment": (0.5, 0.5),
    "looseness": (0.8, 0.2),
    "gear-wear": (0.8, 0.15),
    "sudden-failure": (0.0, 0.0),
}
"""How much of it other positions see: of the same member, of other members."""


def share_seen(growing: Growing, position: str) -> float:
    """How much of a damage a position sees [0, 1]."""
    if position in growing.positions:
        return 1.0
    same, other = _ELSEWHERE[growing.kind]
    return same if position.split("-")[0] == growing.member else other


def wander(period: Period, *key: str) -> Floats:
    """Slow wandering of unit variance over weeks, on the grid: process, season of the ground."""
    days = period.days + 6
    daily = correlated(period.random("wander", *key), days, _WANDER_DAYS)
    grid = period.grid()
    return np.asarray(np.interp((grid - grid[0]) / DAY, np.arange(days), daily), np.float64)


def resonance(speed_share: Floats, natural: Floats) -> Floats:
    """Amplification by the nearness of speed to a natural frequency, over that at 85 % of it [1].

    `natural` is the natural frequency over rated speed; one mode with 5 % damping.
    """

    def gain(ratio: Floats) -> Floats:
        square = np.asarray((1 - ratio**2) ** 2 + (2 * _DAMPING * ratio) ** 2)
        return np.asarray(1 / np.sqrt(square), np.float64)

    return np.asarray(gain(speed_share / natural) / gain(np.array([0.85]))[0], np.float64)


def _bearing(effect: Effect, growing: Growing, axis: str, life: Floats, seen: float) -> None:
    """High frequency weeks before velocity; kurtosis up, then down as pulses merge (J3)."""
    damage = LAWS[growing.law](life)
    effect.acceleration_factor *= 1 + seen * (growing.high_frequency - 1) * damage**0.6
    pulses = np.exp(-(((life - 0.45) / 0.18) ** 2)) * (life > 0)
    effect.kurtosis_add += seen * growing.kurtosis * pulses
    late = np.clip((life - LATE) / (1 - LATE), 0, 1)
    effect.velocity_add += seen * growing.velocity * axis_share(OTHER, axis) * late**1.5
    effect.temperature_add += seen * growing.warmth * np.clip((life - 0.85) / 0.15, 0, 1)


def _gear(effect: Effect, growing: Growing, axis: str, life: Floats, seen: float) -> None:
    """Mesh and side bands lie above velocity's band: mostly high frequency, some velocity."""
    damage = LAWS[growing.law](life)
    effect.acceleration_factor *= 1 + seen * (growing.high_frequency - 1) * damage**0.7
    effect.kurtosis_add += seen * growing.kurtosis * damage
    effect.velocity_add += seen * growing.velocity * axis_share(OTHER, axis) * damage
    effect.temperature_add += seen * growing.warmth * damage


def _unbalance(
    effect: Effect, growing: Growing, axis: str, life: Floats, seen: float, speed_share: Floats
) -> None:
    """The force of a mass off centre goes with the square of speed (F2)."""
    force = growing.velocity * LAWS[growing.law](life) * speed_share**2
    effect.velocity_add += seen * axis_share(UNBALANCE, axis) * force


def _misalignment(effect: Effect, growing: Growing, axis: str, life: Floats, seen: float) -> None:
    """Strong along the shaft, on both sides of the coupling, with some warmth."""
    damage = LAWS[growing.law](life)
    effect.velocity_add += seen * growing.velocity * axis_share(MISALIGNMENT, axis) * damage
    effect.temperature_add += seen * growing.warmth * damage


def _looseness(
    effect: Effect,
    growing: Growing,
    axis: str,
    life: Floats,
    seen: float,
    random: np.random.Generator,
) -> None:
    """Erratic: it jumps about while it grows."""
    jump = np.exp(0.25 * correlated(random, life.size, DAY // GRID_STEP))
    damage = LAWS[growing.law](life)
    effect.velocity_add += seen * growing.velocity * axis_share(OTHER, axis) * damage * jump
    effect.kurtosis_add += seen * growing.kurtosis * damage
    effect.acceleration_factor *= 1 + seen * (growing.high_frequency - 1) * damage


def grow(
    effect: Effect,
    period: Period,
    growing: Growing,
    place: tuple[str, str],
    life: Floats,
    speed_share: Floats,
) -> None:
    """Add what a damage does at a position and axis; `life` and `speed_share` on the grid."""
    position, axis = place
    seen = share_seen(growing, position)
    match growing.kind:
        case "bearing-wear":
            _bearing(effect, growing, axis, life, seen)
        case "gear-wear":
            _gear(effect, growing, axis, life, seen)
        case "unbalance":
            _unbalance(effect, growing, axis, life, seen, speed_share)
        case "misalignment":
            _misalignment(effect, growing, axis, life, seen)
        case "looseness":
            random = period.random("loose", growing.asset, position, axis)
            _looseness(effect, growing, axis, life, seen, random)
        case "sudden-failure":  # a shaft breaks: nothing is seen before
            pass
