"""How much of a train must be seen to call it well (rule J7); a common cause leaves it alone."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from tests.warehouse.views.plant import Plant
from warehouse.views import views_below

_BEARINGS = ("motor-nde", "motor-de", "pump-de", "pump-nde")


def _train(seen: Iterable[tuple[str, str | None]], value: float = 1.0) -> Plant:
    """A motor and a pump with two bearings each, of which some directions are read."""
    plant = Plant().train()
    plant.point("P-101", "motor", "motor-nde").point("P-101", "pump", "pump-nde", thrust_end=True)
    for position, axis in seen:
        plant.read(value, position=position, axis=axis)
    return plant


@pytest.mark.parametrize(
    ("seen", "coverage", "level"),
    [
        ([("motor-de", "horizontal")], "partial", "unknown"),
        ([("pump-nde", "vertical")], "partial", "unknown"),
        ([("motor-nde", "vertical"), ("motor-de", "horizontal")], "partial", "unknown"),
        ([("motor-de", "horizontal"), ("pump-nde", "axial")], "partial", "unknown"),
        ([("motor-de", "horizontal"), ("pump-nde", "vertical")], "normal", "normal"),
        ([(position, "horizontal") for position in _BEARINGS], "normal", "normal"),
        ([], "none", "unknown"),
    ],
)
def test_a_four_bearing_train(
    seen: list[tuple[str, str | None]], coverage: str, level: str
) -> None:
    row = _train(seen).condition()
    assert (row["coverage"], row["level"]) == (coverage, level)
    assert row["judgeable_points"] == 4
    assert row["measured_points"] == len({position for position, _ in seen})


@pytest.mark.parametrize("position", _BEARINGS)
def test_one_sensor_raises_and_never_clears(position: str) -> None:
    assert _train([(position, "horizontal")], 9.0).condition()["level"] == "danger"
    assert _train([(position, "horizontal")], 1.0).condition()["level"] == "unknown"


def test_a_hot_bearing_is_told_and_shows_nothing_of_the_vibration() -> None:
    plant = _train([("motor-de", "horizontal")])
    for hours in range(1, 9):
        plant.read(99.0, position="pump-de", axis=None, quantity="temperature", detector="value",
                   band=None, ts=plant.readings[0]["ts"].replace(hour=hours))  # fmt: skip
    row = plant.condition()
    assert (row["level"], row["basis"], row["coverage"]) == ("alert", "temperature", "partial")
    pump = plant.condition("member", member="pump")
    assert (pump["coverage"], pump["measured_points"]) == ("none", 0)


def test_a_common_cause_changes_no_level() -> None:
    assert "common_causes" not in views_below({"asset_conditions"}, frozenset())
    assert "common_causes" not in views_below({"point_evidence"}, frozenset())
