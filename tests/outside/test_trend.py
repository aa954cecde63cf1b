"""The trend view against scipy and published worked values."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from tests.warehouse.views.plant import AS_OF, Plant

EPA = [10.0, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]
"""US EPA QA/G-9S: S = 22, Var(S) = 155.33, Z = 1.685 (ties of 4 and 2)."""


def _trend(values: list[float], **place: Any) -> dict[str, Any]:
    (row,) = Plant().train().daily(values, **place).view("trends")
    return row


def test_published_example_of_the_us_epa() -> None:
    # 11 values: a route, whose trend needs fewer of them
    row = _trend(EPA, method="route")
    assert row["days"] == 11
    assert row["s"] == 22
    assert row["variance"] == pytest.approx(155.3333, abs=1e-4)
    assert row["z"] == pytest.approx(1.684950, abs=1e-6)
    assert row["per_30_days"] == pytest.approx(30 * 1.0)
    assert (row["low"], row["high"]) == (pytest.approx(0.0), pytest.approx(60.0))
    assert not row["significant"]


def test_exact_line_is_recovered() -> None:
    # standards facts, section 4: y = 2 + 0.5 x, n = 10: S 45, Var 125, Z 3.93548
    row = _trend([2 + 0.5 * x for x in range(1, 11)], method="route")
    assert (row["s"], row["variance"]) == (45, 125)
    assert row["z"] == pytest.approx(3.93548, abs=1e-5)
    assert row["per_30_days"] == pytest.approx(15.0)
    assert (row["low"], row["high"]) == (pytest.approx(15.0), pytest.approx(15.0))
    assert row["significant"]


def test_one_outlier_does_not_move_the_slope() -> None:
    values = [2 + 0.5 * x for x in range(1, 10)] + [100.0]
    row = _trend(values, method="route")
    assert row["per_30_days"] == pytest.approx(15.0)
    assert 30 * stats.linregress(range(10), values).slope == pytest.approx(30 * 5.6, abs=3)


@settings(max_examples=8, deadline=None)
@given(
    st.lists(
        st.integers(min_value=4, max_value=60).map(lambda tenth: tenth / 10),
        min_size=14,
        max_size=30,
    )
)
def test_same_slope_and_interval_as_scipy(values: list[float]) -> None:
    days = np.arange(len(values))
    oracle = stats.theilslopes(values, days, alpha=0.95)
    row = _trend(values)
    assert row["per_30_days"] == pytest.approx(30 * oracle.slope)
    assert row["low"] == pytest.approx(30 * oracle.low_slope)
    assert row["high"] == pytest.approx(30 * oracle.high_slope)


def test_gaps_between_days_count_as_time() -> None:
    plant = Plant().train()
    days = [0, 1, 2, 3, 5, 8, 9, 12, 13, 17, 18, 21, 24, 26, 29]
    values = [2.0, 2.1, 2.0, 2.3, 2.2, 2.6, 2.5, 2.9, 2.7, 3.1, 3.3, 3.2, 3.6, 3.5, 3.9]
    for day, value in zip(days, values, strict=True):
        plant.read(value, ago=timedelta(days=29 - day, hours=1))
    (row,) = plant.view("trends")
    assert row["per_30_days"] == pytest.approx(30 * stats.theilslopes(values, days).slope)


@pytest.mark.parametrize(("n", "expected"), [(13, 0), (14, 1)])
def test_online_needs_fourteen_daily_values(n: int, expected: int) -> None:
    assert len(Plant().train().daily([2.0] * n).view("trends")) == expected


@pytest.mark.parametrize(("n", "expected"), [(2, 0), (3, 1)])
def test_route_needs_three_visits(n: int, expected: int) -> None:
    plant = Plant().train()
    for visit in range(n):
        plant.read(2.0 + visit, ago=timedelta(days=30 * visit, hours=1), method="route")
    assert len(plant.view("trends")) == expected


def test_the_window_ends_at_as_of() -> None:
    plant = Plant().train().daily([1.0] * 20 + [9.0] * 20)
    earlier: datetime = AS_OF - timedelta(days=20)
    (row,) = plant.view("trends", earlier)
    assert (row["days"], row["per_30_days"]) == (20, 0)
