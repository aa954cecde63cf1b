"""What was bad stays so until it is seen to be well: standstill, silence and doubt (rule J6)."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.warehouse.views.plant import AS_OF, Plant, Row

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
PUMP: dict[str, Any] = {"scope": "point", "position": "pump-de", "axis": "horizontal"}
_DOUBT: dict[str, Any] = {"quality": "suspect", "reason": "implausible"}


def _bad(value: float = 6.0, last_hours_ago: int = 4) -> Plant:
    """A pump whose last trusted readings are in zone C (or D, or B), each an hour apart."""
    plant = Plant().train()
    for hours in range(last_hours_ago + 9, last_hours_ago - 1, -1):
        plant.read(value, ago=hours * HOUR)
    return plant


def _then(plant: Plant, value: float | None, hours: int = 3, **reading: Any) -> Plant:
    for ago in range(hours, 0, -1):
        plant.read(value, ago=ago * HOUR, **reading)
    return plant


def _held(row: Row) -> tuple[str, str, Any]:
    return row["level"], row["basis"], row["held_since"]


def test_a_silent_machine_keeps_its_level_then_what_it_was() -> None:
    plant = _bad(9.0, last_hours_ago=1)
    fresh = plant.condition(**PUMP)
    assert _held(fresh) == ("danger", "severity", None)
    for days in (4, 400):
        row = plant.condition(as_of=AS_OF + days * DAY, **PUMP)
        assert _held(row) == ("unknown", "no-fresh-reading", AS_OF - HOUR)
        assert (row["last_level"], row["measured_at"]) == ("danger", AS_OF - HOUR)
        assert "2026-03-01 11:00 UTC" in row["reason"]


def test_a_route_reading_holds_for_its_interval() -> None:
    plant = Plant().train().read(6.0, method="route")
    plant.add("routes", route="R", stop="1", walk_order=1, site="s1", asset="P-101",
              position="pump-de", axis="horizontal", interval_days=60.0)  # fmt: skip
    assert plant.condition(as_of=AS_OF + 66 * DAY, **PUMP)["level"] == "alert"
    late = plant.condition(as_of=AS_OF + 67 * DAY, **PUMP)
    assert (late["level"], late["last_level"]) == ("unknown", "alert")


@pytest.mark.parametrize("hours", [1, 60, 24 * 30])
def test_a_stopped_machine_keeps_its_level_as_long_as_it_is_known_to_stand(hours: int) -> None:
    plant = _bad()
    for back in range(10, 2, -1):
        plant.speed(1480.0, ago=back * HOUR)
    as_of = AS_OF + hours * HOUR
    for back in range(0, hours + 2, 12):
        plant.speed(0.0, ts=as_of - back * HOUR - HOUR / 2)
    row = plant.condition(as_of=as_of, **PUMP)
    assert (row["level"], row["zone"], row["basis"]) == ("alert", "C", "stopped")
    assert row["held_since"] >= row["measured_at"]


def test_a_machine_that_stood_and_then_went_silent_is_not_well_either() -> None:
    plant = _bad().speed(1480.0, ago=4 * HOUR).speed(0.0, ago=2 * HOUR)
    row = plant.condition(as_of=AS_OF + 10 * DAY, **PUMP)
    assert (row["level"], row["last_level"]) == ("unknown", "alert")


def test_what_is_read_at_standstill_clears_nothing() -> None:
    plant = _bad().speed(1480.0, ago=4 * HOUR)
    for hours in (3, 2, 1):
        plant.speed(0.0, ago=hours * HOUR).read(0.4, ago=hours * HOUR)
    assert plant.condition(**PUMP)["level"] == "alert"


def test_a_laid_up_machine_keeps_its_level_for_ever() -> None:
    plant = _bad(9.0)
    plant.entities["assets"][0] |= {"service_state": "laid-up", "service_from": AS_OF - HOUR}
    row = plant.condition(as_of=AS_OF + 900 * DAY, **PUMP)
    assert _held(row) == ("danger", "laid-up", AS_OF - HOUR)
    assert row["stale_after"] is None


def test_trusted_steady_readings_clear_what_was_held() -> None:
    plant = _bad().speed(1480.0, ago=4 * HOUR).speed(0.0, ago=3 * HOUR)
    assert plant.condition(**PUMP)["level"] == "alert"
    later = AS_OF + DAY
    plant.speed(0.0, ts=later - 9 * HOUR).speed(1480.0, ts=later - 8 * HOUR)
    for back in range(7, 0, -1):
        plant.speed(1480.0, ts=later - back * HOUR).read(1.0, ts=later - back * HOUR)
    row = plant.condition(as_of=later, **PUMP)
    assert _held(row) == ("normal", "severity", None)


@pytest.mark.parametrize("value", [4.0, 9.0])
def test_a_distrusted_high_reading_is_to_be_verified_and_no_danger(value: float) -> None:
    row = _then(_bad(1.0), value, **_DOUBT).condition(**PUMP)
    level, basis, held = _held(row)
    assert (level, held) == ("unknown", AS_OF - 4 * HOUR)
    assert basis == ("verify" if value > 5.1 else "distrusted")
    assert row["last_level"] == "normal"


def test_a_distrusted_low_reading_improves_nothing() -> None:
    for value, level in ((6.0, "alert"), (9.0, "danger")):
        row = _then(_bad(value), 0.9, **_DOUBT).condition(**PUMP)
        assert _held(row) == (level, "severity", AS_OF - 4 * HOUR)
        assert "held since 2026-03-01 08:00 UTC" in row["reason"]
        assert row["distrust"] is not None


@pytest.mark.parametrize(
    ("value", "doubt", "level", "basis"),
    [
        (0.5, _DOUBT, "watch", "hf-change"),
        (None, {"quality": "bad", "reason": "over-range"}, "unknown", "verify"),
    ],
)
def test_a_watch_is_held_as_well_unless_worse_is_to_be_verified(
    value: float | None, doubt: dict[str, Any], level: str, basis: str
) -> None:
    place: dict[str, Any] = {"quantity": "acceleration", "band": "1000-10000Hz"}
    plant = Plant().train().daily([1.0] * 33 + [3.0] * 6, last_days_ago=1, **place)
    row = _then(plant, value, **place, **doubt).condition(**PUMP)
    assert _held(row) == (level, basis, AS_OF - DAY - HOUR)


def test_what_is_held_under_doubt_ends_as_unknown_with_what_it_was() -> None:
    plant = _bad(9.0)
    as_of = AS_OF + 4 * DAY
    for back in range(6, 0, -1):
        plant.read(0.9, ts=as_of - back * HOUR, **_DOUBT)
    row = plant.condition(as_of=as_of, **PUMP)
    assert _held(row) == ("unknown", "distrusted", AS_OF - 4 * HOUR)
    assert row["last_level"] == "danger"
    asset = plant.read(1.0, position="motor-de", ts=as_of - HOUR).condition(as_of=as_of)
    assert (asset["level"], asset["last_level"]) == ("unknown", "danger")  # above a well motor
