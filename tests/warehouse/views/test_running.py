"""Rules S1 and J9: is it running, and what if nothing tells."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.warehouse.views.plant import AS_OF, Plant

MINUTE = timedelta(minutes=1)


def _state(plant: Plant) -> str:
    (row,) = [row for row in plant.view("running_states") if row["value"] == 2.0]
    state: str = row["state"]
    return state


@pytest.mark.parametrize(
    ("speed", "minutes_before", "state"),
    [
        (1480.0, 0, "steady"),
        (1480.0, 120, "steady"),
        (1480.0, 121, "unknown"),
        (148.0, 0, "stopped"),  # 10 % of rated speed is not above 10 %
        (149.0, 0, "steady"),
        (0.0, 5, "stopped"),
        (-1480.0, 0, "steady"),
    ],
)
def test_speed_decides(speed: float, minutes_before: int, state: str) -> None:
    plant = Plant().train().read(2.0, ago=10 * MINUTE)
    plant.speed(speed, ago=(10 + minutes_before) * MINUTE)
    assert _state(plant) == state


def test_without_evidence_the_state_is_unknown() -> None:
    assert _state(Plant().train().read(2.0)) == "unknown"


@pytest.mark.parametrize(
    ("minutes_after_start", "quantity", "state"),
    [
        (9, "velocity", "transient"),
        (10, "velocity", "steady"),
        (59, "temperature", "transient"),
        (60, "temperature", "steady"),
    ],
)
def test_a_start_is_transient_for_a_while(
    minutes_after_start: int, quantity: str, state: str
) -> None:
    plant = Plant().train().speed(0.0, ago=90 * MINUTE).speed(1480.0, ago=80 * MINUTE)
    band = "10-1000Hz" if quantity == "velocity" else None
    detector = "rms" if quantity == "velocity" else "value"
    ago = (80 - minutes_after_start) * MINUTE
    plant.read(2.0, ago=ago, quantity=quantity, detector=detector, band=band)
    assert _state(plant) == state


def test_a_month_between_two_route_speeds_is_no_start() -> None:
    plant = Plant().train().speed(0.0, ago=timedelta(days=30)).speed(1480.0, ago=MINUTE)
    assert _state(plant.read(2.0, ago=MINUTE)) == "steady"


@pytest.mark.parametrize(("second", "state"), [(1554.0, "steady"), (1555.0, "transient")])
def test_a_drifting_speed_is_transient(second: float, state: str) -> None:
    plant = Plant().train().speed(1480.0, ago=15 * MINUTE).speed(second, ago=10 * MINUTE)
    assert _state(plant.read(2.0, ago=10 * MINUTE)) == state


def test_speed_comes_before_current_and_status() -> None:
    plant = Plant().train().read(2.0).speed(0.0)
    common: dict[str, Any] = {"position": "motor-de", "axis": None, "band": None}
    plant.read(80.0, quantity="current", detector="value", **common)
    plant.read(1.0, quantity="running-status", detector="value", **common)
    assert _state(plant) == "stopped"


@pytest.mark.parametrize(
    ("quantity", "value", "state"),
    [
        ("current", 80.0, "steady"),
        ("current", 3.0, "stopped"),
        ("running-status", 1.0, "steady"),
        ("running-status", 0.0, "stopped"),
    ],
)
def test_current_and_status_decide_where_no_speed_is(
    quantity: str, value: float, state: str
) -> None:
    plant = Plant().train().read(2.0, ago=MINUTE)
    common: dict[str, Any] = {"position": "motor-de", "axis": None, "band": None}
    for day in range(1, 5):
        plant.read(80.0, quantity="current", detector="value", ago=timedelta(days=day), **common)
    if quantity == "running-status":
        plant.readings = [row for row in plant.readings if row["quantity"] != "current"]
    plant.read(value, quantity=quantity, detector="value", ago=2 * MINUTE, **common)
    assert _state(plant) == state


def test_the_shaft_ratio_gives_the_reference_speed() -> None:
    plant = Plant().train().add("shafts", site="s1", asset="P-101", shaft="out", ratio=0.25)
    plant.entities["points"][0]["shaft"] = "out"
    (row,) = plant.speed(370.0).view("running_signals")
    assert row["speed"] == 1480.0


@pytest.mark.parametrize(
    ("value", "proven", "doubt"),
    [
        (0.29, False, "stopped-or-loose"),
        (0.31, False, None),  # above the floor
        (0.1, True, None),  # its speed proves running: smooth, not stopped
    ],
)
def test_far_below_its_own_history(value: float, proven: bool, doubt: str | None) -> None:
    plant = Plant().train().daily([2.5] * 10, last_days_ago=1).read(value)
    if proven:
        plant.speed(1480.0)
    latest = max(plant.view("readings_doubted"), key=lambda row: row["ts"])
    assert (latest["doubt"], latest["usable"]) == (doubt, doubt is None)


def test_quiet_weeks_do_not_lower_the_usual_value() -> None:
    plant = Plant().train().daily([2.5] * 5 + [0.1] * 40)
    (row,) = plant.view("quiet_references")
    assert (row["usual_value"], row["days"]) == (2.5, 5)


def test_a_day_is_the_local_day_of_the_site() -> None:
    plant = Plant().add("sites", site="s1", name="One", time_zone="Pacific/Auckland").train()
    plant.read(2.0, ts=datetime(2026, 2, 1, 12, 30, tzinfo=UTC))
    (row,) = plant.view("daily_statistics")
    assert row["day"].isoformat() == "2026-02-02"


def test_daily_counts_stand_beside_the_statistics() -> None:
    plant = Plant().train()
    for minutes, value, speed in ((50, 2.0, 1480.0), (40, 4.0, 1480.0), (30, 0.2, 0.0)):
        plant.speed(speed, ago=minutes * MINUTE).read(value, ago=minutes * MINUTE)
    plant.speed(1480.0, ago=20 * MINUTE).read(9.0, ago=15 * MINUTE)  # 5 min after a start
    plant.read(7.0, ago=5 * MINUTE, quality="suspect", reason="provisional-mounting")
    (row,) = plant.view("daily_statistics")
    counts = {key: row[key] for key in ("readings", "judged", "unproven", "transient")}
    assert counts == {"readings": 5, "judged": 2, "unproven": 0, "transient": 1}
    assert (row["stopped"], row["distrusted"]) == (1, 1)
    assert (row["median"], row["minimum"], row["maximum"]) == (3.0, 2.0, 4.0)


def test_asset_at_rest_needs_fresh_evidence() -> None:
    plant = Plant().train().speed(0.0, ago=timedelta(hours=71))
    (row,) = plant.view("asset_running")
    assert (row["at_rest"], row["rest_basis"]) == (True, "stopped")
    (row,) = plant.view("asset_running", AS_OF + timedelta(hours=1))
    assert (row["at_rest"], row["rest_basis"]) == (False, None)
