"""The step search on simulated series: what it finds, and what it must not take for a step.

The shares are those of the figures in the judging defaults (`trend_step_*`);
`docs/trends.md` repeats them.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.warehouse.trends.series import Floats, noise, stepped

DAYS = np.arange(90)
SERIES = 400


def _found(rows: Floats) -> float:
    return float(stepped(rows).found.mean())


@pytest.mark.parametrize("related", [0.0, 0.3, 0.6])
def test_noise_has_no_step(related: float) -> None:
    rows = 5 + noise(4000, 90, related, seed=21)
    assert _found(rows) <= 0.003


@pytest.mark.parametrize(("size", "least"), [(5, 0.7), (6, 0.85), (8, 0.95)])
@pytest.mark.parametrize("place", [25, 60, 85])
def test_a_step_of_some_scatters_is_found_where_it_is(
    size: float, least: float, place: int
) -> None:
    rows = 10 + noise(SERIES, 90, 0.0, seed=22)
    rows[:, place:] += size
    steps = stepped(rows)
    assert steps.found.mean() > least
    assert (np.abs(steps.place[steps.found] - place) <= 1).mean() > 0.95
    assert np.median(steps.size[steps.found]) == pytest.approx(size, rel=0.1)


@pytest.mark.parametrize(("related", "least"), [(0.3, 0.75), (0.6, 0.35)])
def test_dependence_hides_smaller_steps(related: float, least: float) -> None:
    rows = 10 + noise(SERIES, 90, related, seed=23)
    rows[:, 60:] += 8
    assert _found(rows) > least


@pytest.mark.parametrize("slope", [0.05, 0.2, 1.0, 5.0])
@pytest.mark.parametrize("onset", [0, 60])
def test_a_slope_is_no_step_whenever_it_sets_in(slope: float, onset: int) -> None:
    rows = 20 + noise(SERIES, 90, 0.3, seed=24) + slope * np.maximum(DAYS - onset, 0)
    assert _found(rows) <= 0.02


@pytest.mark.parametrize("slope", [0.2, 1.0, 5.0])
def test_a_slope_that_has_just_set_in_is_seldom_a_step(slope: float) -> None:
    # eight days old: what tells it from a step is only beginning to show
    rows = 20 + noise(SERIES, 90, 0.3, seed=24) + slope * np.maximum(DAYS - 82, 0)
    assert _found(rows) <= 0.1


@pytest.mark.parametrize("doubling", [7, 15, 30])
def test_growth_in_per_cent_is_no_step(doubling: float) -> None:
    rows = noise(SERIES, 90, 0.3, seed=25) + 40 * 2.0 ** ((DAYS - 90) / doubling)
    assert _found(rows) <= 0.02


def test_a_slope_behind_a_step_leaves_the_step() -> None:
    rows = 10 + noise(SERIES, 90, 0.0, seed=26) + 0.1 * np.maximum(DAYS - 60, 0)
    rows[:, 60:] += 8
    assert _found(rows) > 0.9


def test_of_two_steps_the_latest_counts() -> None:
    rows = 10 + noise(SERIES, 90, 0.0, seed=27)
    rows[:, 40:55] += 10
    steps = stepped(rows)
    assert steps.found.mean() > 0.9
    assert np.median(steps.place) == 55
    assert np.median(steps.size) == pytest.approx(-10, abs=0.5)


def test_a_small_share_of_the_level_is_no_step() -> None:
    rows = 200 + noise(20, 90, 0.0, seed=28)
    rows[:, 60:] += 15  # 7.5 % of the level before
    assert _found(rows) == 0


def test_one_odd_day_is_no_step() -> None:
    rows = 10 + noise(SERIES, 90, 0.0, seed=29)
    rows[:, 50] += 50
    assert _found(rows) <= 0.003


def test_levels_without_scatter() -> None:
    rows = np.full((1, 90), 2.0)
    assert not stepped(rows).found[0]
    rows[:, 70:] = 3.0
    steps = stepped(rows)
    assert (steps.found[0], steps.place[0], steps.size[0]) == (True, 70, 1.0)
