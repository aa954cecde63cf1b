"""What the trust checks find in a plant under test, and healthy readings to find nothing in."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from math import exp
from random import Random
from typing import Any

from tests.warehouse.views.plant import AS_OF, Plant

Row = dict[str, Any]
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)


def found(plant: Plant, check: str | None = None) -> list[Row]:
    """The findings of a check, or of all."""
    rows = plant.view("trust_findings")
    return [row for row in rows if check in (None, row["check_code"])]


def noisy(count: int, level: float = 2.0, spread: float = 0.08, seed: int = 1) -> Iterator[float]:
    """Readings of a healthy machine, as printed with two decimals."""
    random = Random(seed)
    return (round(level * exp(random.gauss(0, spread)), 2) for _ in range(count))


def steadily(plant: Plant, values: list[float], every: timedelta = 8 * HOUR, **place: Any) -> Plant:
    """Readings at equal intervals, the last an hour before AS_OF, printed with two decimals."""
    for back, value in enumerate(reversed(values)):
        plant.read(value, ts=AS_OF - HOUR - back * every, **{"resolution": 0.01} | place)
    return plant
