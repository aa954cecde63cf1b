"""How many trends are told where there is none: the realised rate on simulated fleets.

Every discovery in a fleet of noise is false, so that the false-discovery rate is the share of
fleets in which anything is told at all. `docs/trends.md` has the figures of longer runs.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tests.warehouse.trends.series import Floats, fitted, noise, stepped

ALPHA = 0.05


def probabilities(values: Floats) -> Floats:
    """p of every series in the windows of 30 and 90 days, behind its latest step."""
    steps = stepped(values)
    start = np.where(steps.found, steps.place, 0)
    long = fitted([row[first:] for row, first in zip(values, start, strict=True)]).p
    short_start = np.maximum(start, values.shape[1] - 30)
    short = fitted([row[first:] for row, first in zip(values, short_start, strict=True)]).p
    judged = values.shape[1] - start >= 14
    return np.concatenate([long[judged], short[judged]])


def fleets_with_a_discovery(related: float, fleets: int, series: int, seed: int) -> float:
    """Share of fleets of mere noise in which Benjamini and Hochberg let anything through."""
    told = []
    for number in range(fleets):
        found = probabilities(10 + noise(series, 90, related, seed=seed + number))
        told.append((stats.false_discovery_control(found) <= ALPHA).any())
    return float(np.mean(told))


@pytest.mark.parametrize(("related", "bound"), [(0.0, 0.07), (0.3, 0.12), (0.6, 0.25)])
def test_realised_rate_on_noise(related: float, bound: float) -> None:
    # 60 fleets: the standard error at a rate of 5 % is 3 %
    assert fleets_with_a_discovery(related, fleets=60, series=60, seed=100) <= bound


@pytest.mark.parametrize("related", [0.0, 0.3, 0.6])
def test_one_series_alone_is_told_as_rarely_as_promised(related: float) -> None:
    found = fitted(10 + noise(4000, 30, related, seed=5)).p
    assert (found < 0.05).mean() < 0.075
    assert (found < 0.01).mean() < 0.025


def test_most_true_rises_are_found_among_noise() -> None:
    values = 10 + noise(1000, 30, 0.3, seed=9)
    values[:100] += 0.2 * np.arange(30)
    told = stats.false_discovery_control(fitted(values).p) <= ALPHA
    assert told[:100].mean() > 0.55
    assert told[100:].sum() <= 0.15 * told.sum()
