"""MTBF, MTTR, precision of alerts and missed failures, against hand-counted rows."""

from __future__ import annotations

from datetime import timedelta

import pytest
from scipy import stats

from tests.warehouse.views.fleet_history import case, one, rows, told
from tests.warehouse.views.plant import AS_OF, Plant

DAY = timedelta(days=1)


def _failed(plant: Plant, days_ago: float, down: float | None, **more: object) -> Plant:
    """A functional failure of the pump."""
    told = {"member": "pump", "failure": "functional", "type": "corrective", "as_found": "BRD"}
    return plant.worked("bearing", days_ago, **told | {"down_hours": down} | more)  # type: ignore[arg-type]


def _year(*down: float | None) -> Plant:
    """A train of a site that has reported since before the year, failed so often within it."""
    plant = Plant().train().worked("inspect", 400, failure="none")
    for number, hours in enumerate(down):
        _failed(plant, 50 + 50 * number, hours)
    plant.variables = {"fleet_from": AS_OF - 365 * DAY, "fleet_to": AS_OF}
    return plant


def test_the_worked_example() -> None:
    """8,760 h required, 60 h down, 4 failures: MTBF 2,175 h, MTTR 15 h; 90 %: 950.45, 6,367.48 h.

    Computed from the definitions (C); the terms are those of EN 13306 (V1).
    """
    found = one(_year(10, 20, 25, 5), "reliability", grouped_by="asset")
    assert (found["failures"], found["operating_hours"]) == (4, pytest.approx(8700))
    assert (found["mtbf"], found["mttr"]) == (pytest.approx(2175), pytest.approx(15))
    assert found["mtbf_low"] == pytest.approx(950.45, abs=5e-3)
    assert found["mtbf_high"] == pytest.approx(6367.48, abs=5e-3)
    assert (found["mtbf_reason"], found["mttr_reason"], found["time_base"]) == (
        None, None, "calendar",
    )  # fmt: skip


def test_without_a_failure_nothing_is_a_mean_but_the_lower_bound_holds() -> None:
    found = one(_year(), "reliability", grouped_by="site")
    assert (found["mtbf"], found["mtbf_high"], found["mttr"]) == (None, None, None)
    assert (found["mtbf_reason"], found["mttr_reason"]) == ("no-failure", "no-failure")
    assert found["mtbf_low"] == pytest.approx(2 * 8760 / stats.chi2.ppf(0.95, 2))


def test_the_failure_that_begins_the_observation_is_none_of_it() -> None:
    plant = _failed(_failed(Plant().train(), 100, 10), 40, 20)
    plant.variables = {"fleet_from": AS_OF - 365 * DAY, "fleet_to": AS_OF}
    found = one(plant, "reliability", grouped_by="asset")
    assert (found["failures"], found["mttr"]) == (1, 20)
    assert found["operating_hours"] == pytest.approx(100 * 24, abs=60)


def test_a_site_that_reports_nothing_has_not_been_free_of_failures() -> None:
    plant = _year(3)
    plant.add("sites", site="s2", name="Two", time_zone="UTC")
    plant.add("assets", site="s2", asset="X", name="X", service_state="in-service")
    plant.add("members", site="s2", asset="X", member="fan", role="driven", equipment_class="fan")
    found = one(plant, "reliability", grouped_by="site", site="s2")
    assert (found["operating_hours"], found["mtbf"], found["mtbf_low"]) == (None, None, None)
    assert (found["mtbf_reason"], found["machines"], found["unreported"]) == (
        "no-maintenance-reported", 0, 1,
    )  # fmt: skip
    fleet = one(plant, "reliability", grouped_by="fleet")
    assert (fleet["machines"], fleet["unreported"], fleet["failures"]) == (1, 1, 1)


def test_planned_repairs_are_no_failures_and_classes_count_their_own_machines() -> None:
    plant = _year(10, None)
    plant.worked("bearing", 20, member="motor", type="scheduled", failure="none", down_hours=6.0)
    plant.worked("bearing", 15, member="motor", type="corrective")
    _failed(plant, 10, 2.0, member=None)
    train = one(plant, "reliability", grouped_by="asset")
    assert [train[name] for name in ("failures", "planned", "untold", "restored")] == [3, 1, 1, 2]
    assert train["mttr"] == pytest.approx(6)
    assert train["operating_hours"] == pytest.approx(8760 - 18)
    pumps = one(plant, "reliability", equipment_class="centrifugal-pump")
    assert (pumps["failures"], pumps["planned"]) == (2, 0)
    motors = one(plant, "reliability", equipment_class="electric-motor")
    assert (motors["failures"], motors["planned"], motors["mttr"]) == (0, 1, None)


def test_hours_that_nobody_told_are_not_nought() -> None:
    found = one(_year(None), "reliability", grouped_by="asset")
    assert (found["mttr"], found["mttr_reason"], found["failures"]) == (None, "hours-not-told", 1)


def test_running_time_counts_where_enough_days_prove_it() -> None:
    plant = Plant().train().worked("inspect", 20, failure="none")
    for hour in range(24 * 10):
        ago = timedelta(hours=hour + 1)
        plant.speed(1480.0 if hour % 2 else 0.0, ago=ago).read(1.0, ago=ago)
    _failed(plant, 5, 4.0)
    plant.variables = {"fleet_from": AS_OF - 12 * DAY, "fleet_to": AS_OF}
    found = one(plant, "reliability", grouped_by="asset")
    assert found["time_base"] == "running"
    assert found["operating_hours"] == pytest.approx(0.5 * 12 * 24, rel=0.02)
    plant.variables["fleet_from"] = AS_OF - 20 * DAY
    mostly_dark = one(plant, "reliability", grouped_by="asset")
    assert mostly_dark["time_base"] == "running"
    plant.variables["fleet_from"] = AS_OF - 30 * DAY
    plant.worked("inspect", 30, failure="none")
    assert one(plant, "reliability", grouped_by="asset")["time_base"] == "calendar"


def test_a_machine_laid_up_is_not_watched_any_more() -> None:
    plant = _year(10)
    plant.entities["assets"][0] |= {
        "service_state": "laid-up", "service_from": AS_OF - 165 * DAY,
    }  # fmt: skip
    found = one(plant, "reliability", grouped_by="asset")
    assert (found["failures"], found["mtbf_reason"]) == (0, "no-failure")
    assert found["operating_hours"] == pytest.approx(200 * 24)


def _called() -> Plant:
    plant = Plant().train("P-101").train("P-102")
    for asset in ("P-101", "P-102"):
        told(plant, asset, (200, "normal"), scope="member")
    for number, what in enumerate(
        ("real", "real", "real", "false-alarm", "process", "sensor", "accepted-until", None)
    ):
        case(plant, number, 100 + number, what, closed=90)
    return plant


def test_precision_is_what_people_called_their_cases() -> None:
    found = one(_called(), "alert_precision", grouped_by="class")
    assert found["equipment_class"] == "centrifugal-pump"
    names = ("cases", "real", "false_alarm", "process", "sensor", "accepted", "uncalled")
    assert [found[name] for name in names] == [8, 3, 1, 1, 1, 1, 1]
    assert found["precision"] == pytest.approx(0.5)
    assert found["precision_low"] == pytest.approx(stats.beta.ppf(0.05, 3, 4))
    assert found["precision_high"] == pytest.approx(stats.beta.ppf(0.95, 4, 3))
    # only the pump that had no real case was healthy; three false ones are counted all the same
    assert found["machine_years"] == pytest.approx(200 / 365.25)
    assert found["false_per_year"] == pytest.approx(3 * 365.25 / 200)
    assert found["false_per_year_high"] == pytest.approx(stats.chi2.ppf(0.95, 8) / 2 * 365.25 / 200)
    assert found["claim"] == "too-few-machine-years"
    basis = one(_called(), "alert_precision", grouped_by="basis")
    assert (basis["basis"], basis["precision"], basis["claim"]) == ("severity", 0.5, None)


def test_nothing_called_is_no_precision() -> None:
    plant = case(Plant().train(), 1, 10)
    found = one(plant, "alert_precision", grouped_by="site")
    assert (found["cases"], found["uncalled"], found["precision"]) == (1, 1, None)
    assert (found["precision_low"], found["false_per_year"]) == (None, None)
    assert (found["failures"], found["missed_share"], found["missed_share_high"]) == (
        0, None, None,
    )  # fmt: skip


def test_a_failure_is_missed_where_no_case_was_open_in_the_30_days_before() -> None:
    plant = Plant().train()
    told(plant, "P-101", (300, "unknown"), (90, "normal"), scope="member")
    case(plant, 1, 70, "real", closed=65)
    case(plant, 2, 31, "real", closed=29)
    case(plant, 3, 12, member="motor")
    for days in (200, 60, 34, 20, 12):
        _failed(plant, days, 5.0)
    _failed(plant, 10, 5.0, member=None)
    found = sorted(rows(plant, "missed_failures"), key=lambda row: row["failed_at"])
    assert [(row["why"], row["case_id"]) for row in found] == [
        ("not-watched", None),  # nobody knew its level then
        ("told", 1),  # open until 5 d before
        ("no-case", None),  # the first case ended 31 d before, the next came after it
        ("told", 2),
        ("told", 2),  # closed 17 d before; that of the motor says nothing of the pump
        ("told", 2),  # of the whole train: any case of it
    ]
    assert [row["missed"] for row in found] == [True, False, True, False, False, False]
    assert found[1]["lead_days"] == pytest.approx(10)
    train = one(plant, "alert_precision", grouped_by="fleet")
    assert (train["failures"], train["missed"]) == (6, 2)
    assert train["missed_share_high"] == pytest.approx(stats.beta.ppf(0.95, 3, 4))
