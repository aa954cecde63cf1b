"""A machine at rest, or a loose sensor, is so for every quantity of its device (rule J9)."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from tests.warehouse.views.plant import Plant

_DAY = timedelta(days=1)
_FAST: dict[str, Any] = {"quantity": "acceleration", "band": "1000-10000Hz"}


def _plant(days: list[tuple[float, float]]) -> Plant:
    """A pump whose device reads velocity and acceleration once a day; nothing proves running."""
    plant = Plant().train()
    for back, (velocity, acceleration) in enumerate(reversed(days)):
        ago = back * _DAY + timedelta(hours=1)
        plant.read(velocity, ago=ago).read(acceleration, ago=ago, **_FAST)
    return plant


def _doubts(plant: Plant, value: float) -> set[str | None]:
    return {row["doubt"] for row in plant.view("readings_doubted") if row["value"] == value}


def test_what_is_read_beside_a_quiet_velocity_is_doubted_with_it() -> None:
    plant = _plant([(2.0, 5.0)] * 20 + [(0.05, 0.06)] * 5)
    assert _doubts(plant, 0.05) == _doubts(plant, 0.06) == {"stopped-or-loose"}
    assert _doubts(plant, 5.0) == {None}


def test_no_baseline_of_high_frequency_is_learnt_from_standstill() -> None:
    # it stood for most of the first weeks: only its running days are what it is compared with
    plant = _plant([(0.05, 0.06), (0.05, 0.06), (2.0, 2.6)] * 12 + [(2.0, 2.6)] * 20)
    row = plant.condition("point", position="pump-de", axis="horizontal")
    assert (row["level"], row["basis"]) == ("normal", "severity")


def test_another_axis_that_shakes_speaks_against_it() -> None:
    plant = _plant([(2.0, 5.0)] * 20 + [(0.05, 0.06)] * 2)
    for back in range(22):
        plant.read(1.5, ago=back * _DAY + timedelta(hours=1), axis="vertical")
    assert _doubts(plant, 0.06) == {None}


def test_a_baseline_of_two_ways_of_running_is_refused() -> None:
    plant = Plant().train().daily([1.0, 6.0] * 30, **_FAST)
    (row,) = plant.view("baselines")
    assert (row["refused"], row["scattered"]) == (True, True)
    (words,) = plant.view("baseline_words")
    assert "scatters too much for one way of running" in words["missing"]
