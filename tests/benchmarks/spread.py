"""Quartiles: how a measured ratio is told."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import quantiles


@dataclass(frozen=True, slots=True)
class Spread:
    """Lower quartile, median, upper quartile."""

    low: float
    middle: float
    high: float

    @classmethod
    def of(cls, values: list[float]) -> Spread:
        """Quartiles of some values."""
        return cls(*quantiles(values, n=4, method="inclusive"))

    def __str__(self) -> str:
        return f"{self.middle:.2f}  (quartiles {self.low:.2f} to {self.high:.2f})"
