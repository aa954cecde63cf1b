"""What must hold of every series, whatever it is."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.warehouse.trends.series import Floats, fitted, noise, stepped
from warehouse.trends.fits import Fit

SERIES = st.builds(
    lambda values, grain: np.round(np.array(values) / grain) * grain,
    st.lists(st.floats(min_value=0.2, max_value=50), min_size=6, max_size=60),
    st.sampled_from([0.001, 0.1, 2.0]),
)
"""Values as instruments give them: with few or many ties."""


def _said(found: Fit) -> list[float]:
    return [found.s[0], found.z[0], found.factor[0], found.p[0]]


@settings(max_examples=80, deadline=None)
@given(SERIES, st.floats(min_value=-100, max_value=100))
def test_adding_a_constant_changes_no_probability(values: Floats, constant: float) -> None:
    before, after = fitted([values]), fitted([values + constant])
    assert _said(after) == pytest.approx(_said(before))
    assert after.slope[0] == pytest.approx(before.slope[0], abs=1e-9)


@settings(max_examples=80, deadline=None)
@given(SERIES)
def test_reversed_time_turns_the_sign(values: Floats) -> None:
    forth, back = fitted([values]), fitted([values[::-1]])
    assert (back.s[0], back.z[0]) == (-forth.s[0], pytest.approx(-forth.z[0]))
    assert back.p[0] == pytest.approx(forth.p[0])
    assert back.slope[0] == pytest.approx(-forth.slope[0])
    assert [back.low[0], back.high[0]] == pytest.approx(
        [-forth.high[0], -forth.low[0]], nan_ok=True
    )


@settings(max_examples=80, deadline=None)
@given(SERIES, st.floats(min_value=1e-6, max_value=1e6))
def test_another_unit_changes_no_probability(values: Floats, factor: float) -> None:
    before, after = fitted([values]), fitted([values * factor])
    assert _said(after) == pytest.approx(_said(before))
    rounding = 1e-9 * factor * float(np.abs(values).max())
    assert after.slope[0] == pytest.approx(factor * before.slope[0], abs=rounding)


@settings(max_examples=40, deadline=None)
@given(st.lists(SERIES, min_size=2, max_size=6))
def test_a_row_does_not_heed_its_neighbours(rows: list[Floats]) -> None:
    together = fitted(rows)
    for place, row in enumerate(rows):
        alone = fitted([row])
        for name in ("s", "variance", "factor", "p", "slope", "low", "high", "level"):
            found = getattr(together, name)[place]
            assert found == pytest.approx(getattr(alone, name)[0], nan_ok=True), name


@settings(max_examples=60, deadline=None)
@given(
    st.integers(min_value=0, max_value=999),
    st.integers(min_value=14, max_value=80),
    st.floats(min_value=12, max_value=100),
    st.sampled_from([-1, 1]),
)
def test_a_pure_step_is_a_step_and_no_slope_after_it(
    seed: int, place: int, size: float, sign: int
) -> None:
    """A step of twelve times the scatter; what is behind it is noise like before."""
    values = 500 + noise(1, 90, 0.0, seed)[0]
    values[place:] += sign * size
    found = stepped([values] if size >= 55 else [values - 450])
    assert found.found[0]
    assert abs(found.place[0] - place) <= 1
    assert found.size[0] == pytest.approx(sign * size, abs=3)


def test_noise_behind_a_step_is_no_trend() -> None:
    rows = 50 + noise(300, 90, 0.0, seed=5)
    rows[:, 50:] += 20
    # the plain test of the whole window takes it for a rise
    assert (fitted(rows).p_independent < 1e-6).all()
    steps = stepped(rows)
    assert steps.found.all()
    after = [row[place:] for row, place in zip(rows, steps.place, strict=True)]
    assert (fitted(after).p < 0.05).mean() < 0.08


def test_growth_is_not_taken_for_dependence() -> None:
    """Growth in per cent, and growth that sets in late, bend away from a straight line."""
    day = np.arange(30)
    scatter = noise(200, 30, 0.0, seed=11)
    for growth in (5 * 2 ** (day / 7.5), np.maximum(day - 15, 0) * 0.5, 0.2 * day):
        found = fitted(50 + scatter + growth)
        assert (found.p < 0.01).mean() > 0.8
    late = fitted(50 + scatter + 5.0 * np.maximum(day - 20, 0))
    assert (late.p < 0.05).mean() > 0.9
    bent: Floats = 1.45 * 1.02 ** day.astype(np.float64)
    assert fitted([bent]).p[0] < 1e-4  # without any scatter, and bent
