"""The generated period, its grid, and repeatable random numbers."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

DAY = 86_400
GRID_STEP = 1_800
"""Step of the simulated states [s]."""


@dataclass(frozen=True, slots=True)
class Period:
    """From `start` [s since 1970] on, `days` long. `scale` divides the reading intervals."""

    start: int
    days: int
    seed: int
    scale: float

    @property
    def end(self) -> int:
        """End of the period [s since 1970]."""
        return self.start + self.days * DAY

    def at(self, fraction: float) -> int:
        """The full minute at this fraction of the period [s since 1970]."""
        return self.start + round(fraction * self.days * DAY / 60) * 60

    def grid(self) -> Ints:
        """Grid of the simulation [s since 1970], two days wider on both sides."""
        return np.arange(self.start - 2 * DAY, self.end + 2 * DAY, GRID_STEP, dtype=np.int64)

    def index(self, times: Ints) -> Ints:
        """Grid index of the state valid at `times`."""
        return (times - (self.start - 2 * DAY)) // GRID_STEP

    def fraction(self, times: Ints) -> Floats:
        """Times as fractions of the period."""
        return np.asarray((times - self.start) / (self.days * DAY), np.float64)

    def random(self, *key: str) -> np.random.Generator:
        """Random numbers that depend on the seed and the key only."""
        return np.random.default_rng([self.seed, zlib.crc32("|".join(key).encode())])

    def interval(self, seconds: float) -> int:
        """A reading interval at this scale, at least one second [s]."""
        return max(1, round(seconds / self.scale))


def correlated(random: np.random.Generator, count: int, memory_steps: int) -> Floats:
    """Autocorrelated noise of unit variance; `memory_steps` = time constant in steps."""
    kernel = np.exp(-np.arange(5 * memory_steps) / memory_steps)
    white = random.standard_normal(count + kernel.size)
    return np.convolve(white, kernel, "valid")[:count] / float(np.sqrt((kernel**2).sum()))


def lagged(signal: Floats, memory_steps: int) -> Floats:
    """First-order lag of a signal; `memory_steps` = time constant in steps."""
    kernel = np.exp(-np.arange(6 * memory_steps) / memory_steps)
    kernel /= kernel.sum()
    padded = np.concatenate([np.full(kernel.size - 1, signal[0]), signal])
    return np.convolve(padded, kernel, "valid")


def iso(seconds: int | float) -> str:
    """Seconds since 1970 as ISO 8601 in UTC."""
    return datetime.fromtimestamp(int(seconds), UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
