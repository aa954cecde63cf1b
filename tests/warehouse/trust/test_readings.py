"""Stuck, flat, clipped: planted, and healthy readings that look a little like it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.warehouse.trust.found import HOUR, found, noisy, steadily
from tests.warehouse.views.plant import AS_OF, Plant

PUMP: dict[str, Any] = {"scope": "point", "position": "pump-de", "axis": "horizontal"}


def _plant(*values: float, **place: Any) -> Plant:
    return steadily(Plant().train(), list(values), **place)


@pytest.mark.parametrize(("repeats", "told"), [(7, False), (8, True), (30, True)])
def test_stuck(repeats: int, told: bool) -> None:
    plant = _plant(*noisy(60), *[2.13] * repeats)
    rows = found(plant, "stuck")
    assert len(rows) == told
    if told:
        (row,) = rows
        # From the first repetition on: the reading before it may have been the last true one.
        assert row["since"] == AS_OF - HOUR - (repeats - 2) * 8 * HOUR
        assert (row["until"], row["effect"]) == (None, "distrust")
        assert f"2.13 mm/s printed {repeats} times in a row" in row["evidence"]
        assert "printed to 0.01" in row["evidence"]


def test_a_stuck_spell_that_has_passed_is_told_with_its_end_and_stays_doubted() -> None:
    plant = _plant(*noisy(60), *[2.13] * 10, *noisy(20, seed=2))
    (row,) = found(plant, "stuck")
    assert row["until"] == AS_OF - HOUR - 20 * 8 * HOUR
    doubts = [reading["doubt"] for reading in plant.view("readings_doubted")]
    assert doubts.count("stuck") == 9
    assert plant.condition(**PUMP)["level"] == "normal"


def test_a_stuck_sensor_shows_no_health() -> None:
    row = _plant(*noisy(60), *[2.13] * 12).condition(**PUMP)
    assert (row["level"], row["basis"], row["last_level"]) == ("unknown", "distrusted", "normal")
    assert "is doubted as stuck: 2.13 mm/s printed 12 times in a row" in row["distrust"]
    assert row["reason"].startswith("The latest velocity 2.13 mm/s is doubted as stuck")


def test_a_sensor_stuck_high_is_to_be_verified() -> None:
    row = _plant(*noisy(60), *[9.99] * 12).condition(**PUMP)
    assert (row["level"], row["basis"]) == ("unknown", "verify")
    assert "verify: if true it is above B/C 5.10" in row["reason"]


def test_a_dead_channel_reads_nothing_while_the_machine_runs() -> None:
    plant = _plant(*noisy(60), *[0.0] * 10)
    for back in range(12):
        plant.speed(1480.0, ts=AS_OF - HOUR - back * 8 * HOUR)
    assert len(found(plant, "stuck")) == 1


@pytest.mark.parametrize(
    ("values", "resolution"),
    [
        ([*noisy(60), *[0.05] * 20], 0.01),  # its floor, and nothing proves that it runs
        ([round(value, 1) for value in noisy(60)] + [2.1] * 20, 0.1),  # too coarse to tell
        ([2.1] * 80, 0.01),  # nothing to compare with
        ([value for value in noisy(30) for _ in range(10)], 0.01),  # repeats as a habit
        ([*noisy(200)], 0.01),
    ],
    ids=["at rest", "coarse", "always the same", "held by the gateway", "healthy"],
)
def test_repetitions_that_are_no_fault(values: list[float], resolution: float) -> None:
    assert found(_plant(*values, resolution=resolution), "stuck") == []


@pytest.mark.parametrize(
    ("spread", "told"),
    [(0.08, False), (0.03, False), (0.006, True)],
)
def test_flat(spread: float, told: bool) -> None:
    fine = [round(value, 3) for value in noisy(100)]
    late = [2.0 + spread * (value - 2.0) / 0.08 for value in noisy(40, seed=3)]
    plant = _plant(*fine, *[round(value, 4) for value in late], resolution=0.0001)
    rows = found(plant, "flat")
    assert len(rows) == told
    if told:
        assert rows[0]["effect"] == "note"
        assert plant.condition(**PUMP)["level"] == "normal"


def test_a_machine_at_rest_is_not_flat() -> None:
    still = [0.05 + 0.001 * (back % 2) for back in range(40)]
    assert found(_plant(*noisy(100), *still, resolution=0.001), "flat") == []


def _clipped(top: float, spikes: int) -> list[float]:
    """Wild readings, each that would be above the top at the top, and healthy ones between."""
    wild = [value * 4 for value in noisy(200, spread=0.5, seed=5)]
    high = sorted(wild)[-spikes]
    return [round(min(value * top / high, top), 2) for value in wild]


def test_clipped_readings_are_distrusted_and_the_others_are_not() -> None:
    plant = _plant(*_clipped(12.0, 12))
    (row,) = found(plant, "saturated")
    assert "12 readings on" in row["evidence"]
    assert "exactly 12.0 mm/s" in row["evidence"]
    doubted = [reading for reading in plant.view("readings_doubted") if reading["doubt"]]
    assert {(reading["doubt"], reading["value"]) for reading in doubted} == {("saturated", 12.0)}
    assert len(doubted) == 12


def test_what_was_clipped_long_ago_has_passed() -> None:
    plant = steadily(Plant().train(), _clipped(12.0, 12), every=8 * HOUR)
    for row in plant.readings:
        row["ts"] -= timedelta(days=60)
    (row,) = found(steadily(plant, list(noisy(30))), "saturated")
    assert row["until"] is not None


@pytest.mark.parametrize(("value", "told"), [(24.4, False), (24.5, True), (30.0, True)])
def test_the_end_of_a_declared_range(value: float, told: bool) -> None:
    plant = Plant().train().add(
        "mountings", device="dev-pump-de", channel="horizontal", site="s1", asset="P-101",
        position="pump-de", axis="horizontal", mounted_from=AS_OF - timedelta(days=99),
        commissioning="passed", range_quantity="velocity", range_high=25.0,
    )  # fmt: skip
    steadily(plant, [*noisy(20), value, value, value])
    steadily(plant, [100.0], quantity="acceleration", band="10-5000Hz")
    rows = found(plant, "saturated")
    assert len(rows) == told
    row = plant.condition(**PUMP)
    if told:
        assert "3 readings are at the end of its declared range of 25.0 mm/s" in rows[0]["evidence"]
        assert (row["level"], row["basis"]) == ("unknown", "verify")
    else:
        assert row["level"] == "danger"


@pytest.mark.parametrize("seed", range(4))
def test_the_highest_value_of_healthy_readings_is_no_end_of_a_range(seed: int) -> None:
    wild = [round(value, 2) for value in noisy(400, spread=0.4, seed=seed)]
    assert found(_plant(*wild), "saturated") == []
