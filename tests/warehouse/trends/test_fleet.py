"""The trend views over a whole fleet: adjusted probabilities, and rises that hold."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from tests.warehouse.trends.fleet import fleet, work_out
from tests.warehouse.trends.series import fitted, noise


def test_adjusted_probabilities_are_those_of_scipy() -> None:
    values = 2.5 + 0.1 * noise(60, 90, 0.3, seed=1)
    values[:6] += 0.02 * np.arange(90)
    connection = fleet(values)
    work_out(connection)
    found = connection.table("trend_windows").to_arrow_table().to_pylist()
    oracle = stats.false_discovery_control([row["p"] for row in found])
    assert [row["p_fleet"] for row in found] == pytest.approx(list(oracle))
    bound = {row["p_bound"] for row in found}
    assert bound == {max(sum(oracle <= 0.05), 1) * 0.05 / len(found)}


def test_windows_are_the_last_30_and_90_days() -> None:
    values = 2.5 + 0.1 * noise(20, 120, 0.3, seed=2)
    connection = fleet(values)
    work_out(connection)
    found = connection.table("trend_windows").order("series_id").to_arrow_table().to_pylist()
    for days in (30, 90):
        oracle = fitted(values[:, -days:])
        rows = [row for row in found if row["window_days"] == days]
        for name in ("s", "z", "factor", "p", "level"):
            assert [row[name] for row in rows] == pytest.approx(list(getattr(oracle, name)))
        assert [row["per_30_days"] for row in rows] == pytest.approx(list(30 * oracle.slope))


def test_of_a_fleet_of_noise_nothing_is_told() -> None:
    rows = work_out(fleet(2.5 + 0.15 * noise(500, 90, 0.3, seed=3)))
    assert len(rows) == 500
    assert sum(row["state"] in ("rising", "falling") for row in rows) <= 1


def _days_told(values: list[float]) -> list[bool]:
    """Whether a rise is told on each of the days behind the first twenty, with the data of then."""
    rows = np.full((len(values) - 20, len(values)), np.nan)
    for place in range(len(rows)):
        known = values[: 21 + place]
        rows[place, -len(known) :] = known
    return [row["state"] == "rising" for row in work_out(fleet(rows))]


def test_a_rise_near_the_bound_does_not_flap() -> None:
    # the slope lies about a tenth of B/C in 30 days, so that scatter carries it over and back
    generator = np.random.default_rng(5)
    values = 2.5 + 0.0152 * np.arange(60) + generator.normal(0, 0.04, 60)
    told = _days_told(list(values))
    changes = int(np.abs(np.diff(np.array(told, dtype=int))).sum())
    assert any(told)
    assert changes <= 2


def test_a_rise_that_is_over_is_let_go() -> None:
    generator = np.random.default_rng(6)
    level = np.minimum(2.5 + 0.03 * np.arange(60), 3.2)
    told = _days_told(list(level + generator.normal(0, 0.02, 60)))
    assert told[0]
    assert not told[-1]


def test_a_series_with_no_boundary_is_measured_against_its_own_level() -> None:
    values = 20 + 0.1 * np.arange(30)[None, :] + noise(1, 30, 0.0, seed=7) * 0.05
    (row,) = work_out(fleet(values, b_c=None))
    assert (row["state"], row["boundary"]) == ("rising", None)
    (row,) = work_out(fleet(values + 200, b_c=None))
    assert row["state"] == "level"
