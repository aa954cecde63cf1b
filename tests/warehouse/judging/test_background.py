"""A standing machine that its running twin shakes: a series of its own, never running (rule S2)."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.warehouse.views.plant import AS_OF, Plant

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
PUMP: dict[str, Any] = {"scope": "point", "position": "pump-de", "axis": "horizontal"}


def _standby(background: float, running: float | None = 2.0, hours: int = 6) -> Plant:
    """A pump that ran until yesterday, and stands since; B/C is 5.1 mm/s."""
    plant = Plant().train(service_state="standby")
    for back in (34, 33, 32, 31, 30):
        plant.speed(1480.0, ago=back * HOUR)
        if running is not None:
            plant.read(running, ago=back * HOUR)
    for back in range(hours, 0, -1):
        plant.speed(0.0, ago=back * HOUR).read(background, ago=back * HOUR)
    return plant


@pytest.mark.parametrize(
    ("background", "level", "basis"),
    [(1.27, "normal", "stopped"), (1.28, "watch", "background"), (4.9, "watch", "background"),
     (30.0, "watch", "background")],
)  # fmt: skip
def test_background_is_told_above_a_quarter_of_b_c_and_is_no_zone(
    background: float, level: str, basis: str
) -> None:
    row = _standby(background).condition(**PUMP)
    assert (row["level"], row["basis"], row["zone"], row["value"]) == (level, basis, "A", 2.0)
    assert f"at standstill {background:.2f}"[:15] in row["reason"]
    assert row["measured_at"] == AS_OF - 30 * HOUR


def test_it_neither_clears_nor_covers_what_is_worse() -> None:
    row = _standby(1.5, running=6.0).condition(**PUMP)
    assert (row["level"], row["basis"], row["zone"]) == ("alert", "stopped", "C")
    assert "29.4 % of B/C 5.10" in row["reason"]


def test_a_machine_never_judged_while_running_is_told_too() -> None:
    row = _standby(1.5, running=None).condition(**PUMP)
    assert (row["level"], row["basis"], row["zone"]) == ("watch", "background", None)


def test_it_is_no_judged_value_no_baseline_and_no_trend() -> None:
    plant = _standby(1.5)
    (judged,) = plant.view("judged_values")
    assert (judged["value"], judged["measured_at"]) == (2.0, AS_OF - 30 * HOUR)
    days = {row["day"].isoformat(): (row["judged"], row["stopped"], row["maximum"])
            for row in plant.view("daily_statistics")}  # fmt: skip
    assert days["2026-03-01"] == (0, 6, None)
    (own,) = plant.view("background_days")
    assert (own["readings"], own["median"], own["maximum"]) == (6, 1.5, 1.5)


def test_two_readings_doubted_ones_and_old_ones_do_not_tell() -> None:
    assert _standby(1.5, hours=2).condition(**PUMP)["basis"] == "stopped"
    doubted = _standby(0.1)
    for back in (3, 2, 1):
        doubted.read(4.0, ago=back * HOUR / 2, quality="suspect", reason="implausible")
    assert doubted.condition(**PUMP)["basis"] == "stopped"
    old = _standby(1.5)
    for hours in range(12, 24 * 4, 12):
        old.speed(0.0, ts=AS_OF + hours * HOUR)
    assert old.condition(as_of=AS_OF + 4 * DAY - HOUR, **PUMP)["basis"] == "stopped"


def test_once_it_runs_it_is_judged_as_running() -> None:
    plant = _standby(1.5)
    later = AS_OF + 3 * HOUR
    plant.speed(1480.0, ts=AS_OF)
    for minutes in (60, 90, 120, 150):
        when = AS_OF + timedelta(minutes=minutes)
        plant.speed(1480.0, ts=when).read(1.5, ts=when)
    row = plant.condition(as_of=later, **PUMP)
    assert (row["level"], row["basis"], row["value"]) == ("normal", "severity", 1.5)
