"""What maintenance changes in the views: baselines, temperatures, and whether a repair helped."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.warehouse.views.plant import AS_OF, Plant, Row

_DAYS = 40
_VIEWS = (
    "maintenance_current",
    "restoring_work",
    "temperature_mutes",
    "baseline_epochs",
    "repair_figures",
    "repair_effects",
    "cases",
    "case_summaries",
    "case_notifications",
    "case_suppressions",
)


def _plant(before: float, after: float, **values: Any) -> Plant:
    """Three readings a day for 80 days at the motor, another value in the second half."""
    plant = Plant().train()
    for day in range(2 * _DAYS):
        value = before if day < _DAYS else after
        for third in range(3):
            plant.read(
                value + (day % 3) / 100,
                ago=_delta(2 * _DAYS - day - third / 4),
                **{"position": "motor-de"} | values,
            )
    return plant


def _delta(days: float) -> timedelta:
    return timedelta(days=days)


def _one(rows: list[Row]) -> Row:
    assert len(rows) == 1, rows
    return rows[0]


def test_without_work_every_view_is_empty_but_for_the_first_epoch() -> None:
    for view in _VIEWS:
        assert Plant().view(view) == []
    epochs = _plant(1.0, 1.0).view("baseline_epochs")
    assert [(row["epoch"], row["epoch_until"], row["work_id"]) for row in epochs] == [
        (0, None, None)
    ]


def test_restoring_work_opens_a_baseline_that_counts_once_it_is_accepted() -> None:
    plant = _plant(1.0, 1.6)
    assert _one(plant.view("baselines"))["median"] == pytest.approx(1.01)
    row = _one(plant.worked("balance", days_ago=_DAYS, member="motor").view("baselines"))
    assert (row["epoch"], row["work_id"], row["complete"]) == (1, "orders/W-0", True)
    assert row["median"] == pytest.approx(1.61)


def test_a_baseline_above_b_c_is_refused_and_the_old_one_kept() -> None:
    row = _one(_plant(1.0, 5.0).worked("bearing", days_ago=_DAYS).view("baselines"))
    assert (row["epoch"], row["refused"], round(row["median"], 2)) == (0, False, 1.01)


def test_until_the_new_one_is_complete_the_old_one_is_kept_unless_it_is_another_machine() -> None:
    recent = _plant(1.0, 1.6).worked("balance", days_ago=5)
    assert _one(recent.view("baselines"))["epoch"] == 0
    other = _plant(1.0, 1.6).worked("exchange", days_ago=5)
    row = _one(other.view("baselines"))
    assert (row["complete"], row["work_id"]) == (False, "orders/W-0")


def test_what_restores_nothing_opens_nothing() -> None:
    plant = _plant(1.0, 1.6).worked("lubricate", days_ago=_DAYS).worked("inspect", days_ago=9)
    assert plant.view("restoring_work") == []
    assert _one(plant.view("baselines"))["epoch"] == 0


@pytest.mark.parametrize(
    ("before", "after", "outcome"),
    [(5.0, 1.0, "effective"), (5.0, 4.9, "not-effective"), (9.0, 5.0, "not-effective")],
)
def test_a_repair_is_judged_by_what_it_changed(before: float, after: float, outcome: str) -> None:
    plant = _plant(before, after).worked("bearing", days_ago=_DAYS, member="motor")
    row = _one(plant.view("repair_effects"))
    assert (row["outcome"], row["series"]) == (outcome, 1)
    assert "mm/s after" in row["words"]
    figures = _one(plant.view("repair_figures"))
    assert (figures["days_before"], figures["days_after"]) >= (13, 13)


def test_too_little_after_it_says_nothing_yet() -> None:
    plant = _plant(5.0, 5.0).worked("bearing", days_ago=2.2)
    effects = plant.view("repair_effects")
    assert {row["member"]: row["outcome"] for row in effects} == {"motor": None, "pump": None}


def test_temperatures_are_muted_for_48_hours_after_greasing() -> None:
    plant = _plant(50.0, 50.0, quantity="temperature", detector="value", axis=None, band=None)
    plant.worked("lubricate", days_ago=10, hours=1.0, member="motor")
    rows = plant.view("running_states")
    muted = [row for row in rows if row["state"] == "transient"]
    greased = AS_OF - _delta(10)
    assert muted
    assert all(greased - _delta(1 / 24) <= row["ts"] < greased + _delta(2) for row in muted)
    spell = [row for row in rows if greased <= row["ts"] < greased + _delta(2)]
    assert len(spell) == len(muted)


def test_late_versions_and_cancellations_leave_the_latest_that_stands() -> None:
    plant = Plant().train().worked("bearing", days_ago=9).worked("bearing", days_ago=9)
    same = {"event": "W", "digest": "b"}
    plant.maintenance[0] |= same | {"version_at": AS_OF - _delta(3), "activity": "lubricate"}
    plant.maintenance[1] |= same | {"version_at": AS_OF - _delta(4), "activity": "bearing"}
    assert _one(plant.view("maintenance_current"))["activity"] == "lubricate"
    plant.worked("bearing", days_ago=9, event="W", version_at=AS_OF, status="cancelled")
    assert plant.view("maintenance_current") == []
