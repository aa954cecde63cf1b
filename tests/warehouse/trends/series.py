"""Invented series of daily values, and what the statistics say of them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from warehouse.trends.fits import Fit, fit
from warehouse.trends.samples import Samples
from warehouse.trends.steps import StepRule, Steps, latest_steps

Floats = NDArray[np.float64]

Rows = Sequence[Sequence[float] | NDArray[np.float64]] | NDArray[np.float64]

Z95 = 1.959963984540054
RULE = StepRule(week=7, least_after=5, scatter=3.0, share=0.1, at_once=0.8)
"""As in the judging defaults."""


def samples(rows: Rows, days: Sequence[float] | None = None) -> Samples:
    """One row a series; day after day unless `days` says otherwise."""
    counts = np.array([len(row) for row in rows], dtype=np.int64)
    usual = [np.arange(count) if days is None else np.asarray(days) for count in counts]
    return Samples.of(
        np.concatenate(usual).astype(np.float64),
        np.concatenate([np.asarray(row, dtype=np.float64) for row in rows]),
        counts,
    )


def fitted(
    rows: Rows,
    days: Sequence[float] | None = None,
    *,
    dependent: bool = True,
) -> Fit:
    """The fit of each row, read at its last day, with 95 % bounds."""
    table = samples(rows, days)
    last = np.array([np.nanmax(row) for row in table.days])
    return fit(table, last, np.full(len(last), np.nan if dependent else 1.0), Z95)


def stepped(rows: Rows) -> Steps:
    """The latest step of each row by the rule of the judging defaults."""
    return latest_steps(samples(rows), RULE)


def noise(series: int, days: int, related: float, seed: int) -> Floats:
    """Gaussian noise of unit variance whose neighbours are related by `related` (AR(1))."""
    generator = np.random.default_rng(seed)
    fresh = generator.standard_normal((series, days))
    values = np.empty_like(fresh)
    values[:, 0] = fresh[:, 0]
    for day in range(1, days):
        values[:, day] = related * values[:, day - 1] + np.sqrt(1 - related**2) * fresh[:, day]
    return values
