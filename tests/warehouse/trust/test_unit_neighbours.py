"""Slips of unit that have always been: told by another instrument, or by machines of the kind."""

from __future__ import annotations

from datetime import timedelta
from math import exp
from random import Random
from typing import Any

import pytest

from tests.warehouse.trust.found import DAY, HOUR, found, noisy, steadily
from tests.warehouse.views.plant import AS_OF, Plant

ACCELERATION: dict[str, Any] = {"quantity": "acceleration", "band": "10-5000Hz"}


def _walked(plant: Plant, level: float, **place: Any) -> Plant:
    for visit, value in enumerate(noisy(5, level, seed=9)):
        plant.read(value, ago=visit * 14 * DAY + 2 * HOUR, method="route", device="meter", **place)
    return plant


@pytest.mark.parametrize(("share", "told"), [(1 / 25.4, True), (1 / 10, False), (1.0, False)])
def test_a_meter_at_the_same_place_tells_a_sensor_in_inches(share: float, told: bool) -> None:
    plant = _walked(steadily(Plant().train(), list(noisy(72, 6.0 * share))), 6.0)
    rows = found(plant, "unit-slip")
    assert len(rows) == told
    if told:
        (row,) = rows
        assert (row["device"], row["effect"], row["until"]) == ("dev-pump-de", "distrust", None)
        assert "by meter (route) at the same place" in row["evidence"]
        # The meter says zone C; the sensor, that would say A, has no voice.
        condition = plant.condition(scope="point", position="pump-de", axis="horizontal")
        assert (condition["level"], condition["zone"]) == ("alert", "C")


def test_another_band_or_detector_is_no_witness() -> None:
    plant = steadily(Plant().train(), list(noisy(72, 0.24)))
    _walked(plant, 6.0, band="2-1000Hz")
    assert found(_walked(plant, 6.0, detector="peak"), "unit-slip") == []


def test_derived_peaks_are_compared_as_rms() -> None:
    plant = steadily(Plant().train(), list(noisy(72, 6.0 / 25.4)))
    (row,) = found(_walked(plant, 6.0 * 2**0.5, detector="derived-peak"), "unit-slip")
    assert "25" in row["evidence"]


def _fleet(odd: dict[str, float], spread: float = 0.3, machines: int = 11) -> Plant:
    """Pumps and their motors; streams of P-0 are off by the factors given for their quantity."""
    plant, random = Plant(), Random(7)
    for number in range(machines):
        asset = f"P-{number}"
        plant.train(asset)
        for quantity, level in (("velocity", 2.0), ("acceleration", 3.0)):
            own = level * exp(random.gauss(0, spread))
            factor = odd.get(quantity, 1.0) if number == 0 else 1.0
            for position, device in (("pump-de", "a"), ("pump-nde", "b")):
                neighbour = odd.get("neighbours", 1.0) if position == "pump-nde" else factor
                values = [value * own / 2 * neighbour for value in noisy(8, seed=number)]
                steadily(plant, values, timedelta(days=1), asset=asset, position=position,
                         device=f"{device}{number}", quantity=quantity, channel="x",
                         band="10-1000Hz" if quantity == "velocity" else "10-5000Hz")  # fmt: skip
    for number in range(machines):
        plant.point(f"P-{number}", "pump", "pump-nde")
        for back in range(9):
            plant.speed(1480.0, ts=AS_OF - HOUR - back * DAY, asset=f"P-{number}")
    return plant


def _told(plant: Plant) -> list[tuple[str, str, str]]:
    """What like machines tell; one that hardly moves may be asked about besides."""
    rows = [row for row in found(plant, "unit-slip") if "like machines" in row["evidence"]]
    return [(row["asset"], row["position"], row["effect"]) for row in rows]


def test_like_machines_tell_and_the_neighbour_on_the_machine_confirms() -> None:
    plant = _fleet({"velocity": 1 / 25.4})
    assert _told(plant) == [("P-0", "pump-de", "distrust")]
    (row,) = found(plant, "unit-slip")
    assert "of 11 like machines (centrifugal-pump)" in row["evidence"]
    assert "its neighbours on the machine read as their class does" in row["evidence"]


def test_too_high_for_its_class_is_a_note() -> None:
    assert _told(_fleet({"velocity": 25.4})) == [("P-0", "pump-de", "note")]


@pytest.mark.parametrize(
    "odd",
    [
        {},
        {"velocity": 1 / 8},
        {"velocity": 1 / 25.4, "acceleration": 1 / 4},  # smooth in all that it measures
    ],
    ids=["none", "an eighth", "a smooth machine"],
)
def test_what_like_machines_do_not_tell(odd: dict[str, float]) -> None:
    assert _told(_fleet(odd)) == []


def test_few_machines_are_no_class() -> None:
    assert _told(_fleet({"velocity": 1 / 25.4}, machines=8)) == []


def _alone(level: float, speed: float | None, **place: Any) -> Plant:
    """A machine without any like it, and what its speed says."""
    plant = steadily(Plant().train(), list(noisy(72, level, spread=0.03)), **place)
    for back in range(75 if speed else 0):
        plant.speed(speed or 0.0, ts=AS_OF - HOUR - back * 8 * HOUR)
    return plant


def test_what_runs_by_proof_and_hardly_moves_is_asked_about() -> None:
    (row,) = found(_alone(1.6 / 25.4, 1480.0), "unit-slip")
    assert (row["quantity"], row["effect"], row["until"]) == ("velocity", "note", None)
    assert row["since"] < AS_OF - 20 * DAY
    assert "numbers in in/s taken as mm/s" in row["evidence"]
    assert "while running is proven" in row["evidence"]


@pytest.mark.parametrize(
    ("level", "speed", "place"),
    [
        (0.15, 1480.0, {}),
        (0.06, None, {}),
        (0.06, 300.0, {}),
        (0.06, 1480.0, {"detector": "peak"}),
    ],
    ids=["moves more", "nothing proves running", "turns slowly", "a true peak"],
)
def test_what_may_be_so_is_not_asked_about(
    level: float, speed: float | None, place: dict[str, Any]
) -> None:
    assert found(_alone(level, speed, **place), "unit-slip") == []


def test_a_machine_that_two_sources_find_so_smooth_is_so_smooth() -> None:
    alone = _alone(0.06, 1480.0)
    assert len(found(alone, "unit-slip")) == 1
    other = steadily(alone, list(noisy(72, 0.07)), source="another", device="another")
    assert found(other, "unit-slip") == []


def test_what_another_witness_says_is_said_once() -> None:
    plant = _walked(_alone(1.6 / 25.4, 1480.0), 1.6)
    (row,) = found(plant, "unit-slip")
    assert "by meter (route) at the same place" in row["evidence"]
