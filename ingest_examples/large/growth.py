"""How damage grows (rule F2): its own law over running time; failure is damage at 1.

Nothing here knows of zones or limits. The laws are shapes of fracture mechanics and of wear,
their figures common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ingest_examples.generator.clock import DAY, GRID_STEP, Floats, Period
from ingest_examples.generator.schedule import State

Kind = Literal[
    "bearing-wear", "unbalance", "misalignment", "looseness", "gear-wear", "sudden-failure"
]
Law = Literal["linear", "exponential", "crack", "step", "none"]

_SPALL = 0.03
"""Damage with which a spall or a crack is born [share of failure]."""
_STEP = 0.45
"""Damage that a wrong alignment starts with [share of failure]."""
_USUAL_LOAD = 0.75


def _exponential(life: Floats) -> Floats:
    return np.asarray(np.expm1(3 * life) / np.expm1(3.0), np.float64)


def _crack(life: Floats) -> Floats:
    """A rate as the square of damage: long small, then all at once."""
    return np.asarray(np.where(life > 0, _SPALL / (1 - life * (1 - _SPALL)), 0.0), np.float64)


def _step(life: Floats) -> Floats:
    return np.asarray(np.where(life > 0, _STEP + (1 - _STEP) * life, 0.0), np.float64)


LAWS: dict[Law, Callable[[Floats], Floats]] = {
    "linear": lambda life: life,
    "exponential": _exponential,
    "crack": _crack,
    "step": _step,
    "none": np.zeros_like,
}
"""Damage [0, 1] by the share of its life that has passed [0, 1]."""


@dataclass(frozen=True, slots=True)
class Growing:
    """A planted failure. Life in days at usual load; sizes are those at failure.

    `velocity` mm/s rms added at rated speed, `high_frequency` factor [1], `kurtosis` added at
    its peak [1], `warmth` K. `begins` and `fails` in s since 1970.
    """

    kind: Kind
    asset: str
    member: str
    positions: tuple[str, ...]
    law: Law
    life_days: float
    begins: int
    fails: int
    velocity: float = 0.0
    high_frequency: float = 1.0
    kurtosis: float = 0.0
    warmth: float = 0.0


def dose(state: State, kind: Kind) -> Floats:
    """Running days that count, on the grid; a rolling contact ages as load cubed (ISO 281)."""
    weight = np.ones(state.load.size)
    if kind in ("bearing-wear", "gear-wear"):
        weight = np.clip(state.load / _USUAL_LOAD, 0.5, 1.4) ** 3
    return np.cumsum(np.where(state.running, weight, 0.0)) * (GRID_STEP / DAY)


def share_of_life(period: Period, state: State, growing: Growing) -> Floats:
    """How much of its life a damage has used on the grid [0, 1]; it rests while standing."""
    taken = dose(state, growing.kind)
    first = taken[period.index(np.array([growing.begins], np.int64))[0]]
    return np.asarray(np.clip((taken - first) / growing.life_days, 0, 1), np.float64)


def failure_time(period: Period, state: State, kind: Kind, begins: int, life_days: float) -> int:
    """When damage reaches 1 [s since 1970]; the end of the grid where it does not."""
    grid, taken = period.grid(), dose(state, kind)
    first = taken[period.index(np.array([begins], np.int64))[0]]
    at = int(np.searchsorted(taken, first + life_days))
    return int(grid[min(at, grid.size - 1)])


def begin_time(period: Period, state: State, kind: Kind, fails: int, life_days: float) -> int:
    """When damage must begin to reach 1 at `fails` [s since 1970]."""
    grid, taken = period.grid(), dose(state, kind)
    last = taken[period.index(np.array([fails], np.int64))[0]]
    return int(grid[max(0, int(np.searchsorted(taken, last - life_days)))])
