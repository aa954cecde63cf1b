from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.warehouse.views.plant import AS_OF, Plant
from warehouse.limits import alarm_setting, trip_ceiling, zone
from warehouse.limits.severity import is_significant_change

magnitude = st.floats(min_value=0, max_value=1e4)


@given(magnitude, magnitude)
def test_a_higher_value_is_never_in_a_better_zone(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert zone(low, 1.4, 2.8, 4.5) <= zone(high, 1.4, 2.8, 4.5)


@given(st.floats(min_value=0, max_value=100), st.floats(min_value=0.1, max_value=100))
def test_alarm_stays_below_its_cap(baseline: float, b_c: float) -> None:
    assert alarm_setting(b_c, baseline) <= 1.25 * b_c


def test_sql_and_python_give_the_same_zone() -> None:
    values = [0.0, 1.4, 1.4 + 5e-10, 1.4 + 5e-9, 2.8, 2.81, 4.5, 4.5000001, 99.0]
    connection = Plant().connect(AS_OF, "limit_step")
    for value in values:
        found = connection.execute("SELECT limit_step(?, 1.4, 2.8, 4.5)", [value]).fetchone()
        assert found == ("ABCD".index(zone(value, 1.4, 2.8, 4.5)) + 1,)


@pytest.mark.parametrize(
    ("boundaries", "steps"),
    [
        ("1, 2, 4", [1, 2, 3, 4]),
        ("NULL, 2, 4", [2, 2, 3, 4]),  # a set that does not part A and B
        ("1, 2, NULL", [1, 2, 3, 3]),  # a fan whose shutdown goes by its history
        ("NULL, 2, NULL", [2, 2, 3, 3]),  # one acceptance value
        ("NULL, NULL, NULL", [None] * 4),
    ],
)
def test_a_boundary_that_is_not_there_is_never_passed(
    boundaries: str, steps: list[int | None]
) -> None:
    connection = Plant().connect(AS_OF, "limit_step")
    found = connection.execute(
        f"SELECT limit_step(v, {boundaries}) FROM (VALUES (1.0), (1.5), (3.0), (9.0)) AS t(v)"
    ).fetchall()
    assert [step for (step,) in found] == steps


@pytest.mark.parametrize("wrong", [-1.0, float("nan")])
def test_numbers_that_are_no_magnitude_are_refused(wrong: float) -> None:
    with pytest.raises(ValueError, match="found"):
        zone(wrong, 1, 2, 3)
    with pytest.raises(ValueError, match="found"):
        alarm_setting(wrong, None)
    with pytest.raises(ValueError, match="found"):
        alarm_setting(4.5, wrong)
    with pytest.raises(ValueError, match="found"):
        trip_ceiling(wrong)
    with pytest.raises(ValueError, match="found"):
        is_significant_change(1.0, 1.0, wrong)
