"""Slips of unit that begin one day (rule J10), and machines that only look like it."""

from __future__ import annotations

from typing import Any

import pytest

from tests.warehouse.trust.found import DAY, HOUR, found, noisy, steadily
from tests.warehouse.views.plant import AS_OF, Plant

ACCELERATION: dict[str, Any] = {"quantity": "acceleration", "band": "10-5000Hz"}
TEMPERATURE: dict[str, Any] = {
    "quantity": "temperature", "detector": "value", "band": None, "axis": None, "channel": "t",
    "resolution": 0.1,
}  # fmt: skip
PUMP: dict[str, Any] = {"scope": "point", "position": "pump-de", "axis": "horizontal"}
LATE = 12
"""Readings at the end that are slipped, four days of them."""


def _stepped(factor: float, level: float = 2.0, seed: int = 1, late: int = LATE) -> list[float]:
    """Readings of 24 days, those of the last four times `factor`."""
    values = list(noisy(72, level, seed=seed))
    return [*values[:-late], *(round(value * factor, 3) for value in values[-late:])]


def _velocity(factor: float, level: float = 2.0, **place: Any) -> Plant:
    return steadily(Plant().train(), _stepped(factor, level), **place)


def _with_acceleration(factor: float, velocity: float = 1.0) -> Plant:
    plant = _velocity(velocity)
    return steadily(plant, _stepped(factor, 3.0, seed=2), **ACCELERATION)


def _running(plant: Plant) -> Plant:
    for back in range(75):
        plant.speed(1480.0, ts=AS_OF - HOUR - back * 8 * HOUR)
    return plant


def test_inches_taken_as_millimetres_look_healthy_and_show_no_health() -> None:
    plant = _running(_velocity(1 / 25.4, level=6.0))  # zone C, and 0.24 mm/s from then on
    (row,) = found(plant, "unit-slip")
    assert row["since"] == AS_OF - HOUR - (LATE - 1) * 8 * HOUR
    assert (row["until"], row["effect"]) == (None, "distrust")
    assert "numbers in in/s taken as mm/s give 25.4" in row["evidence"]
    condition = plant.condition(**PUMP)
    assert (condition["level"], condition["last_level"]) == ("unknown", "alert")
    assert "is doubted as unit-slip" in condition["distrust"]


def test_a_high_velocity_that_fell_is_doubted_though_nothing_proves_running() -> None:
    (row,) = found(_velocity(1 / 25.4, level=9.0), "unit-slip")  # 0.35 mm/s is no standstill
    assert row["effect"] == "distrust"


@pytest.mark.parametrize(
    ("acceleration", "told"),
    [(1.0, True), (1 / 9.80665, True), (1 / 30, False), (1 / 4, False)],
    ids=["does not move", "slips as well", "falls silent", "falls somewhat"],
)
def test_the_other_quantity_of_the_channel_tells_slip_from_standstill(
    acceleration: float, told: bool
) -> None:
    plant = _with_acceleration(acceleration, velocity=1 / 25.4)
    slips = [row for row in found(plant, "unit-slip") if row["quantity"] == "velocity"]
    assert len(slips) == (1 if told and acceleration == 1.0 else 0)
    if acceleration == 1.0:
        assert "the other quantity of the channel did not move" in slips[0]["evidence"]
    doubts = {row["doubt"] for row in plant.view("latest_readings") if row["value"] < 0.3}
    assert doubts <= {"unit-slip", "stopped-or-loose", None}


@pytest.mark.parametrize("factor", [1 / 25.4, 25.4, 0.001, 1000.0])
def test_every_slip_of_velocity_is_found_beside_a_still_acceleration(factor: float) -> None:
    plant = _with_acceleration(1.0, velocity=factor)
    (row,) = found(plant, "unit-slip")
    assert (row["quantity"], row["effect"]) == ("velocity", "distrust")


def test_readings_25_times_too_high_are_to_be_verified() -> None:
    row = _with_acceleration(1.0, velocity=25.4).condition(**PUMP)
    assert (row["level"], row["basis"]) == ("unknown", "verify")
    assert "numbers in mm/s taken as in/s give 25.4" in row["reason"]


def test_without_a_witness_25_times_higher_is_a_note_and_a_danger() -> None:
    plant = _velocity(25.4)
    (row,) = found(plant, "unit-slip")
    assert row["effect"] == "note"
    assert "or what was read before was too low" in row["evidence"]
    assert plant.condition(**PUMP)["level"] == "danger"


def test_ten_times_the_acceleration_may_be_a_bearing() -> None:
    (row,) = found(_with_acceleration(9.80665), "unit-slip")
    assert (row["quantity"], row["effect"]) == ("acceleration", "note")


def test_an_axis_that_moves_alone_is_no_machine() -> None:
    plant = _velocity(25.4)
    steadily(plant, list(noisy(72, 1.5, seed=4)), axis="vertical")
    (row,) = found(plant, "unit-slip")
    assert (row["axis"], row["effect"]) == ("horizontal", "distrust")
    assert "other axes did not move" in row["evidence"]


def test_all_axes_of_a_device_slip_together() -> None:
    plant = _velocity(25.4)
    steadily(plant, _stepped(25.4, 1.5, seed=4), axis="vertical")
    rows = found(plant, "unit-slip")
    assert [row["effect"] for row in rows] == ["distrust", "distrust"]
    assert "other axes moved alike" in rows[0]["evidence"]


def test_one_visit_on_a_route_with_other_decimals() -> None:
    plant = Plant().train()
    for visit, value in enumerate([2.45, 2.61, 2.53, 62.2, 2.49]):
        plant.read(value, ago=(4 - visit) * 14 * DAY + HOUR, method="route",
                   resolution=0.25 if value > 9 else 0.0025)  # fmt: skip
    (row,) = found(plant, "unit-slip")
    assert row["since"] == row["until"] == AS_OF - 14 * DAY - HOUR
    assert (row["effect"], row["evidence"].endswith("printed with other decimals")) == (
        "distrust", True,
    )  # fmt: skip
    assert plant.condition(**PUMP)["level"] == "normal"


def test_the_way_back_is_no_slip() -> None:
    values = [*_stepped(1 / 25.4, 9.0, late=54), *noisy(30, 9.0, seed=3)]
    (row,) = found(steadily(Plant().train(), values), "unit-slip")
    assert row["until"] == AS_OF - HOUR - 30 * 8 * HOUR
    assert "lower" in row["evidence"]


def _grown() -> list[float]:
    return [round(2.0 * 1.05**day, 2) for day in range(72)]


@pytest.mark.parametrize(
    "values",
    [
        _stepped(1.4142),  # rms for peak: cannot be told
        _stepped(4.0),
        _stepped(10.0),
        _stepped(1 / 10),
        _stepped(60.0),
        _grown(),
        [*noisy(71), 50.8],  # one spike
        list(noisy(72, spread=0.3)),
    ],
    ids=["peak", "x4", "x10", "a tenth", "x60", "grown to 25 times", "a spike", "wild"],
)
def test_what_is_no_slip_of_velocity(values: list[float]) -> None:
    plant = steadily(Plant().train(), values)
    steadily(plant, list(noisy(72, 3.0, seed=2)), **ACCELERATION)
    assert found(plant, "unit-slip") == []


def test_a_duty_pump_that_starts_and_stops_has_no_slip() -> None:
    """Nothing proves running: velocity and acceleration fall to their floors every third day."""
    velocity, acceleration = list(noisy(90, 2.5)), list(noisy(90, 0.8, seed=2))
    for place in range(90):
        if place // 3 % 3 == 0:
            velocity[place] /= 25.0
            acceleration[place] /= 9.8
    plant = steadily(Plant().train(), [round(value, 3) for value in velocity])
    steadily(plant, [round(value, 3) for value in acceleration], **ACCELERATION)
    assert [row for row in found(plant, "unit-slip") if row["effect"] == "distrust"] == []


def _warm(*late: float) -> Plant:
    values = [round(40 + (value - 2.0) * 10, 1) for value in noisy(60)]
    return steadily(Plant().train(), [*values, *late], **TEMPERATURE)


def test_fahrenheit_taken_as_celsius_may_be_a_hot_bearing() -> None:
    (row,) = found(_warm(*[104.1, 103.8, 104.4, 103.9]), "unit-slip")
    assert row["effect"] == "note"
    assert "degF taken as Cel gives 105" in row["evidence"]
    assert "verify at once" in row["evidence"]


def test_two_temperatures_that_step_alike_from_other_levels_slipped() -> None:
    plant = _warm(*[104.1, 103.8, 104.4, 103.9])
    other = [round(55 + (value - 2.0) * 10, 1) for value in noisy(60, seed=2)]
    steadily(plant, [*other, 131.2, 130.8, 130.9, 131.1], device="dev-pump-de",
             **TEMPERATURE | {"position": "pump-de", "channel": "t2"}, asset="P-101",
             feature="inner")  # fmt: skip
    assert [row["effect"] for row in found(plant, "unit-slip")] == ["distrust", "distrust"]


@pytest.mark.parametrize("running", [True, False])
def test_celsius_taken_as_fahrenheit_reads_cold_as_a_machine_at_rest_does(running: bool) -> None:
    plant = _warm(*[4.6, 4.1, 4.8, 4.3])
    if running:
        steadily(plant, list(noisy(64)))
    rows = found(plant, "unit-slip")
    assert [row["effect"] for row in rows] == (["distrust"] if running else [])


@pytest.mark.parametrize("late", [[55.0] * 4, [70.0, 75.0, 80.0, 90.0], [20.0] * 4])
def test_what_is_no_slip_of_temperature(late: list[float]) -> None:
    assert found(_warm(*late), "unit-slip") == []
