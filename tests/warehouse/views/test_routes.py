"""Walks of a route, what is overdue, and compliance, against hand-counted rows."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.warehouse.views.plant import AS_OF, Plant, Row

_VIEWS = (
    "stop_results_current", "route_visits", "route_walks", "route_stops", "route_compliance",
    "seen_on_routes",
)  # fmt: skip


def _plant() -> Plant:
    """Three stops every 10 days, 2 days of window."""
    plant = Plant().train()
    for order, (stop, position) in enumerate(
        [("1", "motor-de"), ("2", "pump-de"), ("3", "pump-de")], start=1
    ):
        plant.add(
            "routes", route="R", stop=stop, walk_order=order, site="s1", asset="P-101",
            position=position, axis="horizontal" if stop != "3" else "axial",
            interval_days=10.0, window_days=2.0,
        )  # fmt: skip
    return plant


def _visit(plant: Plant, stop: str, days_ago: float, result: str | None, **more: object) -> None:
    number = len(plant.stops) + 1
    when = AS_OF - timedelta(days=days_ago)
    row: Row = {
        "source": "sheets", "route": "R", "stop": stop, "visited_at": when, "result": result,
        "site": "s1", "asset": "P-101", "position": "motor-de" if stop == "1" else "pump-de",
        "digest": str(number), "package": number, "row": 1, "mapping": "m", "received_at": when,
    }  # fmt: skip
    plant.stops.append(row | more)


@pytest.mark.parametrize("view", _VIEWS)
def test_a_store_without_routes_has_no_rows(view: str) -> None:
    assert Plant().view(view) == []


def test_standing_machines_are_counted_apart() -> None:
    plant = _plant()
    for stop, result in (("1", "measured"), ("2", "not-running"), ("3", None)):
        _visit(plant, stop, 5, result)
    (walk,) = plant.view("route_walks")
    counted = ("stops", "measured", "not_running", "unexplained", "share", "in_time")
    assert [walk[name] for name in counted] == [3, 1, 1, 1, 0.5, None]


def test_a_stop_that_no_sheet_names_is_unexplained() -> None:
    plant = _plant()
    _visit(plant, "1", 5, "measured")
    (walk,) = plant.view("route_walks")
    assert (walk["measured"], walk["unexplained"]) == (1, 2)


def test_walks_are_parted_by_days_without_visits_and_may_be_late() -> None:
    plant = _plant()
    for days, stops in ((30.0, "12"), (29.0, "3"), (17.0, "123"), (5.5, "123")):
        for stop in stops:
            _visit(plant, stop, days, "measured")
    walks = plant.view("route_walks")
    assert [(row["walk"], row["measured"]) for row in walks] == [(1, 3), (2, 3), (3, 3)]
    # due 10 d after day 30: day 20; at day 17 that is 3 d late, 1 d behind the window of 2 d
    assert [row["in_time"] for row in walks] == [None, False, True]
    assert walks[1]["days_late"] == pytest.approx(1)
    (route,) = plant.view("route_compliance")
    assert (route["walks"], route["walks_expected"], route["walks_late"]) == (3, 4, 1)
    assert (route["share"], route["state"]) == (1, "in-time")


@pytest.mark.parametrize(("days", "state"), [(9.0, "in-time"), (11.0, "due"), (12.5, "overdue")])
def test_a_stop_is_overdue_behind_its_window(days: float, state: str) -> None:
    plant = _plant()
    _visit(plant, "1", days, "measured")
    found = {row["stop"]: row["state"] for row in plant.view("route_stops")}
    assert found == {"1": state, "2": "never-visited", "3": "never-visited"}


def test_a_stop_that_could_not_be_reached_stays_due() -> None:
    plant = _plant()
    _visit(plant, "1", 20, "measured")
    _visit(plant, "1", 9, "no-access")
    _visit(plant, "2", 9, "not-running")
    found = {row["stop"]: row for row in plant.view("route_stops")}
    assert (found["1"]["state"], found["1"]["misses"]) == ("overdue", 1)
    assert (found["2"]["state"], found["2"]["misses"]) == ("in-time", 0)


def test_observations_fade_with_their_days() -> None:
    plant = _plant()
    _visit(plant, "1", 36, "measured", observations="smell")
    _visit(plant, "2", 3, "measured", observations="leak oil", note="at the seal")
    rows = plant.view("seen_on_routes")
    assert {row["scope"] for row in rows} == {"point", "member", "asset"}
    (member,) = [row for row in rows if row["scope"] == "member"]
    day = f"{AS_OF - timedelta(days=3):%Y-%m-%d}"
    assert member["observations"] == f"pump-de: leak, oil (at the seal), {day}"
    assert member["member"] == "pump"
