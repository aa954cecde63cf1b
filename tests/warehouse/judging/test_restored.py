"""Restoring work ends what was told of a machine (rule J6); readings after it say how it is."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.warehouse.views.plant import AS_OF, Plant

_DAY = timedelta(days=1)
_HOUR = timedelta(hours=1)


def _bad(method: str = "wireless", last_days_ago: int = 2) -> Plant:
    """A pump at 6.5 mm/s, zone C of its category on rigid support, for two weeks."""
    plant = Plant().train()
    return plant.daily([6.5] * 14, last_days_ago=last_days_ago, method=method)


@pytest.mark.parametrize("method", ["wireless", "route"])
def test_until_a_reading_nobody_knows(method: str) -> None:
    assert (
        _bad(method).condition("point", position="pump-de", axis="horizontal")["level"] == "alert"
    )
    row = (
        _bad(method).worked("bearing", 1).condition("point", position="pump-de", axis="horizontal")
    )
    assert (row["level"], row["basis"], row["last_level"]) == ("unknown", "no-fresh-reading", None)
    assert row["zone"] is None
    assert "No judgeable reading since restoring work, bearing (orders/W-0)" in row["reason"]
    assert "before it" in row["reason"]
    assert "6.50 mm/s" in row["reason"]


@pytest.mark.parametrize("method", ["wireless", "route"])
def test_one_good_reading_is_enough_to_be_well(method: str) -> None:
    plant = _bad(method).worked("bearing", 1).read(1.2, method=method)
    row = plant.condition("point", position="pump-de", axis="horizontal")
    assert (row["level"], row["zone"], row["value"]) == ("normal", "A", 1.2)


def test_one_bad_reading_is_bad_at_once() -> None:
    plant = _bad().worked("bearing", 1).read(6.4)
    row = plant.condition("point", position="pump-de", axis="horizontal")
    assert (row["level"], row["value"]) == ("alert", 6.4)


def test_without_restoring_work_one_good_reading_clears_nothing() -> None:
    for plant in (_bad().read(1.2), _bad().worked("lubricate", 1).read(1.2)):
        row = plant.condition("point", position="pump-de", axis="horizontal")
        assert (row["level"], row["zone"]) == ("alert", "C")


def test_work_on_the_motor_says_nothing_of_the_pump() -> None:
    plant = _bad().worked("bearing", 1, member="motor")
    assert plant.condition("point", position="pump-de", axis="horizontal")["level"] == "alert"


def test_a_machine_at_rest_after_the_work_is_not_bad_any_more() -> None:
    plant = _bad().speed(1480, ago=3 * _DAY).speed(0, ago=30 * _HOUR).speed(0)
    assert plant.condition("point", position="pump-de", axis="horizontal")["level"] == "alert"
    row = plant.worked("bearing", 1).condition("point", position="pump-de", axis="horizontal")
    assert row["level"] == "unknown"
    assert "restoring work" in row["reason"]


def test_a_good_reading_by_another_method_answers_for_the_point() -> None:
    plant = _bad("route").worked("bearing", 1).daily([1.2] * 1, method="wireless")
    row = plant.condition("point", position="pump-de", axis="horizontal")
    assert (row["level"], row["value"]) == ("normal", 1.2)


def test_since_when_and_trend_begin_with_the_work() -> None:
    rising = [2.0 + 0.25 * day for day in range(24)]
    plant = Plant().train().daily(rising, last_days_ago=2).worked("bearing", 1).read(1.2)
    row = plant.condition("point", position="pump-de", axis="horizontal")
    assert (row["level"], row["since"]) == ("normal", AS_OF.date())
    assert row["trend_state"] == "not-judged"
    assert "rising" not in row["reason"]


def test_what_was_left_without_work_is_well_since_it_was_left() -> None:
    plant = Plant().train().daily([1.5] * 10 + [6.5] * 8 + [1.5] * 9)
    row = plant.condition("point", position="pump-de", axis="horizontal")
    assert row["level"] == "normal"
    assert AS_OF.date() - 9 * _DAY <= row["since"] <= AS_OF.date() - 2 * _DAY


@pytest.mark.parametrize(
    ("after", "level"),
    [
        ([6.0, 6.1], "alert"),
        ([6.0], "alert"),
        ([4.9], "normal"),  # in the hysteresis below B/C 5.1, which nothing holds any more
        ([1.0], "normal"),
    ],
)
def test_since_begins_with_the_work_whatever_is_read_after_it(
    after: list[float], level: str
) -> None:
    plant = Plant().train()
    for hours in range(24 * 14, 16, -8):
        plant.read(6.0, ago=hours * _HOUR)
    plant.worked("bearing", 14 / 24)
    for number, value in enumerate(after):
        plant.read(value, ago=(4 - number) * _HOUR)
    row = plant.condition("point", position="pump-de", axis="horizontal")
    assert (row["level"], row["since"]) == (level, AS_OF.date())
