"""What a planner is told of an open case follows the case: next step, limits, since when."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from schemas.tables.conditions import BASIS
from tests.warehouse.views.cases_told import ago, happen, tell
from tests.warehouse.views.plant import Plant, Row
from warehouse.work.tables import load_work_rules

_MINUTES = dt.timedelta(minutes=10)
_CLEAR = {"level": "normal", "cleared_at": ago(1)}
_LIMITS: Row = {
    "limit_edition": "ISO 10816-7:2009", "limit_confidence": "V2", "limit_verified": True,
    "assumed": "support", "since": dt.date(2026, 2, 25),
}  # fmt: skip


def _summary(plant: Plant) -> Row:
    (row,) = plant.view("case_summaries")
    return row


def _told(case: Row, **condition: Any) -> Row:
    plant = Plant().add("sites", site="s1", name="One", time_zone="Pacific/Auckland").train()
    tell(plant, **_LIMITS | {"next_step": "As the condition says."} | condition)
    return _summary(happen(plant, "opened", 2.0, **case))


_ISOLATED = ("isolation", "permit")
_STEPS: list[tuple[Row, Row, str, tuple[str, ...]]] = [
    ({}, {}, "As the condition says.", ()),
    ({"state": "acknowledged"}, {}, "As the condition says.", ()),
    ({"state": "acknowledged", **_CLEAR}, {"level": "normal"}, "The level is clear again", ()),
    ({"state": "confirmed"}, {}, "Confirmed: plan the repair by 2026-03-30", _ISOLATED),
    (
        {"state": "confirmed", "level": "watch", "worst_told": "watch"}, {"level": "watch"},
        "Confirmed: inspect while running", ("guard", *_ISOLATED),
    ),
    ({"state": "confirmed"}, {"distrust": "stuck"}, "Confirmed, but the readings", _ISOLATED),
    (
        {"state": "work-requested", "order_id": "4711"}, {},
        "The work is ordered (order 4711): have it planned by 2026-03-30", ("guard", *_ISOLATED),
    ),
    ({"state": "work-requested"}, {}, "The work is ordered (no order named)", _ISOLATED),
    (
        {"state": "deferred", "resumes": "confirmed", "until": dt.datetime(2026, 4, 30, 12,
         tzinfo=dt.UTC)}, {}, "Put off until 2026-05-01", ("guard", *_ISOLATED),
    ),
    ({"state": "done"}, {}, "The work is reported as done: measure again", ("operating bin",)),
    ({"state": "verified", **_CLEAR}, {"level": "normal"}, "The work helped: nothing beyond", ()),
    ({"state": "verified"}, {}, "The work is found to have helped, but the level", ("guard",)),
]  # fmt: skip


@pytest.mark.parametrize(("case", "condition", "begins", "has"), _STEPS)
def test_the_next_step_is_that_of_the_case(
    case: Row, condition: Row, begins: str, has: tuple[str, ...]
) -> None:
    told = _told(case, **condition)["next_step"]
    assert told.startswith(begins)
    assert [word for word in has if word not in told] == []
    assert "{" not in told


def test_after_work_it_is_measured_again_within_the_days_behind_the_work() -> None:
    plant = Plant().train()
    happen(tell(plant), "opened", 50.0)
    happen(plant, "done", 4.0, state="done")
    row = _summary(plant)
    assert row["respond_by"] == ago(4.0 - 30.0)
    assert f"measure again by {row['respond_by']:%Y-%m-%d}" in row["next_step"]


@pytest.mark.parametrize(("speed", "stops"), [(0.0, True), (1480.0, False)])
def test_a_machine_in_alert_that_stands_is_inspected_before_it_is_started(
    speed: float, stops: bool
) -> None:
    plant = tell(Plant().train().read(2.0, ago=_MINUTES)).speed(speed, ago=_MINUTES)
    row = _summary(happen(plant, "opened", 2.0, state="work-requested"))
    assert row["next_step"].startswith("The work is ordered")
    assert ("before it is started again" in row["next_step"]) is stops
    assert row["needs_outage"] is not stops


def test_every_state_behind_the_second_look_has_a_step_for_what_it_may_ask() -> None:
    rows = load_work_rules()["case_next_steps"].to_pylist()
    found: dict[str, set[str | None]] = {}
    for row in rows:
        found.setdefault(row["state"], set()).add(row["action_class"])
    for state in ("confirmed", "work-requested"):
        assert found[state] == {"repeat", "inspect-running", "plan-repair"}
    for state in ("cleared", "deferred", "done", "verified", "verified-not-clear", "at-rest"):
        assert found[state] == {None}


@pytest.mark.parametrize("basis", ["severity", "trend", "change", "hf-change", "temperature"])
def test_limits_are_those_of_the_basis_of_the_case(basis: str) -> None:
    assert basis in BASIS
    row = _told({"basis": basis}, basis=basis)
    names = ("limit_edition", "confidence", "verified", "assumed")
    wanted = ("ISO 10816-7:2009", "V2", True, "support")
    if basis in ("hf-change", "temperature"):
        wanted = (None, "common practice, no source", None, None)  # type: ignore[assignment]
    assert tuple(row[name] for name in names) == wanted
    assert row["condition_since"] == dt.date(2026, 2, 25)


def test_while_another_basis_governs_its_limits_and_days_are_not_those_of_the_case() -> None:
    row = _told({"basis": "hf-change"}, basis="severity")
    assert (row["limit_edition"], row["confidence"]) == (None, "common practice, no source")
    assert row["condition_since"] is None
    row = _told({}, basis="hf-change")
    assert (row["limit_edition"], row["confidence"]) == ("ISO 10816-7:2009", None)
