"""The meeting sheet and the outage list: which case stands under which heading, and why."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import pytest

from tests.warehouse.views.cases_told import ago, happen, tell
from tests.warehouse.views.plant import AS_OF, Plant, Row
from warehouse.query import answers
from warehouse.services.meetings import Windows
from warehouse.sql import load_statements

_SQL = load_statements("warehouse.services", "meetings")
_WEEK = {"since": "2026-02-22", "site": None}
_WINDOW = {"first": "2026-03-09", "next_first": "2026-04-06", "site": None}


def _asked(plant: Plant, name: str, parameters: Row) -> list[Row]:
    with plant.connect() as session:
        return answers(session, _SQL[name], parameters, seconds=60)


def _sheet(plant: Plant) -> list[tuple[str, str]]:
    return [(row["heading"], row["change"]) for row in _asked(plant, "sheet", _WEEK)]


def _plant(*happened: tuple[str, float, Row], told: Row | None = None) -> Plant:
    """P-101 with a case of its pump, things that happened to it in order."""
    plant = tell(Plant().train(criticality="B"), **(told or {}))
    for kind, days_ago, values in happened:
        happen(plant, kind, days_ago, **values)
    return plant


_OPENED: tuple[str, float, Row] = ("opened", 20.0, {})
_DANGER = {"level": "danger", "worst_told": "danger"}
_NOT_DUE = {"level_since": ago(1), "state": "confirmed", "confirmed_by": "A. Example"}


_SHEETS: list[tuple[list[tuple[str, float, Row]], list[tuple[str, str]]]] = [
        ([], []),
        ([("opened", 3.0, {})], [("new", "opened at alert")]),
        (
            [("opened", 3.0, _DANGER), ("eased", 2.0, {"level": "watch"})],
            [("new", "opened at danger, now watch")],
        ),
        (
            [("opened", 3.0, {}), ("worsened", 2.0, _DANGER | _NOT_DUE)],
            [("new", "opened at alert, danger since 2026-02-28")],
        ),
        (
            [("opened", 3.0, {}), ("worsened", 2.0, _DANGER), ("eased", 1.0, {"level": "alert"})],
            [("new", "opened at alert, danger in between, now alert")],
        ),
        ([("opened", 20.0, _NOT_DUE)], []),
        ([_OPENED, ("worsened", 1.0, _DANGER | _NOT_DUE)], [("worse", "alert to danger")]),
        (
            [_OPENED, ("worsened", 3.0, _DANGER), ("eased", 1.0, {"level": "alert"} | _NOT_DUE)],
            [("worse", "danger in between, alert again")],
        ),
        (
            [_OPENED, ("cleared", 9.0, {"cleared_at": ago(9)}),
             ("returned", 1.0, {"cleared_at": None} | _NOT_DUE)],
            [("worse", "cleared last time, back at alert")],
        ),
        (
            [_OPENED, ("closed", 9.0, {"state": "closed", "disposition": "false-alarm"}),
             ("reopened", 1.0, {"disposition": None} | _NOT_DUE)],
            [("worse", "closed last time, open again at alert")],
        ),
        (
            [_OPENED, ("done", 9.0, {"state": "done"}), ("repair-not-effective", 1.0, _NOT_DUE)],
            [("worse", "the work did not help")],
        ),
        (
            [_OPENED, ("cleared", 2.0, {"level": "normal", "cleared_at": ago(2)})],
            [("cleared", "alert last time, clear since 2026-02-27")],
        ),
        (
            [("opened", 3.0, {}), ("cleared", 2.0, {"level": "normal", "cleared_at": ago(2)})],
            [("cleared", "clear since 2026-02-27")],
        ),
        (
            [_OPENED, ("closed", 2.0, {"state": "closed", "disposition": "accepted-until",
                                       "until": ago(-30)})],
            [("cleared", "closed as accepted-until until 2026-03-31")],
        ),
        ([_OPENED, ("closed", 9.0, {"state": "closed", "disposition": "process"})], []),
        ([_OPENED], [("overdue", "last time already")]),
        ([("opened", 10.0, {})], [("overdue", "since this time")]),
        (
            [_OPENED, ("deferred", 15.0, {"state": "deferred", "until": ago(2)}),
             ("deferral-expired", 2.0, {"until": None} | _NOT_DUE)],
            [("deferral expired", "put off or borne until 2026-02-27")],
        ),
    ]  # fmt: skip


def _many(scenarios: Iterable[tuple[list[tuple[str, float, Row]], Row]]) -> Plant:
    """A plant with one asset, and one case of its pump, for each scenario."""
    plant = Plant()
    for number, (happened, told) in enumerate(scenarios):
        asset = f"A-{number}"
        tell(plant.train(asset, criticality="B"), asset=asset, **told)
        for kind, days_ago, values in happened:
            happen(plant, kind, days_ago, case=number, asset=asset, **values)
    return plant


def test_a_case_stands_under_the_headings_that_fit() -> None:
    rows = _asked(_many((happened, {}) for happened, _ in _SHEETS), "sheet", _WEEK)
    for number, (happened, expected) in enumerate(_SHEETS):
        own = [(row["heading"], row["change"]) for row in rows if row["asset"] == f"A-{number}"]
        assert own == expected, happened


def test_a_line_has_what_a_meeting_needs() -> None:
    plant = _plant(("opened", 3.0, {"owner": "B. Example", "order_id": "4711"}))
    plant.entities["assets"][0]["external_id"] = "FL-1"
    plant.entities["members"][1]["external_id"] = "EQ-2"
    (row,) = _asked(plant, "sheet", _WEEK)
    wanted = {
        "asset_name": "P-101", "asset_external_id": "FL-1", "member": "pump",
        "member_external_id": "EQ-2", "level": "alert", "level_since": ago(3), "reason": "Told.",
        "owner": "B. Example", "order_id": "4711", "respond_by": ago(-4), "next_step": "Look.",
        "priority": 3, "value": 5.5, "detector": "rms",
    }  # fmt: skip
    assert {name: row[name] for name in wanted} == wanted


@pytest.mark.parametrize(("days_ago", "told"), [(2.0, [("silent", "was alert")]), (9.0, [])])
def test_a_machine_that_went_silent_is_told_once(
    days_ago: float, told: list[tuple[str, str]]
) -> None:
    silent = {"level": "unknown", "basis": "no-fresh-reading", "last_level": "alert"}
    plant = _plant(told=silent)
    place = {"scope": "member", "site": "s1", "asset": "P-101", "member": "pump"}
    plant.log.append(
        place | {"seq": 1, "level_to": "alert", "basis": "severity", "judged_at": ago(30)}
    )
    plant.log.append(
        place
        | {"seq": 2, "level_to": "unknown", "basis": "no-fresh-reading", "judged_at": ago(days_ago)}
    )
    assert _sheet(plant) == told
    standing = _asked(plant, "standing", {"site": None})
    assert standing == [{"open_cases": 0, "silent_machines": 1, "machines": 1}]


_CONFIRMED = [("opened", 1.0, {"state": "confirmed", "confirmed_by": "A. Example"})]
_REACHES = "pump-de horizontal at C/D"
_RISING = {"trend_state": "rising", "trend_boundary": "C/D", "trend_reason": "rising"}


_OUTAGES: list[tuple[list[tuple[str, float, Row]], Row, str, str]] = [
        (_CONFIRMED, {"trend_state": "level"}, "must go in", "respond by 2026-03-30; not rising"),
        (
            [("opened", 1.0, {"state": "confirmed", "level_since": ago(-10)})],
            {"trend_state": "level"}, "can wait", "not rising",
        ),
        (
            [("opened", 1.0, {"state": "confirmed", "level_since": ago(-10)})],
            {}, "no estimate", "no time to a boundary can be told: no trend is judged",
        ),
        (
            [("opened", 1.0, {"state": "confirmed", "level_since": ago(-10)})],
            _RISING | {"trend_boundary_days": 40.0, "trend_boundary_days_low": 20.0}, "must go in",
            f"{_REACHES} on 2026-04-10 at the present rate, not before 2026-03-21 (95 %)",
        ),
        (
            [("opened", 1.0, {"state": "confirmed", "level_since": ago(-10)})],
            _RISING | {"trend_boundary_days": 80.0, "trend_boundary_days_low": 60.0}, "can wait",
            f"{_REACHES} on 2026-05-20 at the present rate, not before 2026-04-30 (95 %)",
        ),
        (
            [("opened", 1.0, {"state": "confirmed", "level_since": ago(-10)})],
            _RISING | {"trend_boundary_days": 5.0}, "must go in",
            f"do not wait for the window; {_REACHES} on 2026-03-06 at the present rate",
        ),
        (
            [("opened", 1.0, _DANGER | {"state": "confirmed", "level_since": ago(-10)})],
            {"level": "danger", "value": 9.0} | _RISING | {"trend_boundary": None}, "must go in",
            "do not wait for the window; in danger; above C/D already, and rising",
        ),
        (
            [("opened", 1.0, {"state": "deferred", "resumes": "confirmed", "until": ago(-60)})],
            {"trend_state": "level"}, "can wait", "put off until 2026-04-30; not rising",
        ),
        (
            [("opened", 1.0, {"state": "confirmed", "level": "normal", "cleared_at": ago(1)})],
            {"trend_state": "level"}, "can wait",
            "cleared, the work is still asked for; not rising",
        ),
        (
            [("opened", 1.0, {})], {"trend_state": "level"}, "to verify first",
            "do not wait for the window; it may need the outage once it is verified; verify by "
            "2026-03-07; not rising",
        ),
        (
            [("opened", 1.0, {"state": "confirmed", "level_since": ago(-10)})],
            {"distrust": "stuck", "trend_state": "level"}, "to verify first",
            "it may need the outage once it is verified; no time to a boundary can be told: stuck",
        ),
        (
            [("opened", 1.0, {"state": "confirmed", "level_since": ago(-10)})],
            {"held_since": ago(3), "trend_state": "level", "trend_reason": "trend of old"},
            "no estimate", "no time to a boundary can be told: trend of old",
        ),
    ]  # fmt: skip


def test_a_case_goes_in_or_waits_for_a_reason() -> None:
    plant = _many((happened, told) for happened, told, _, _ in _OUTAGES)
    rows = {row["asset"]: row for row in _asked(plant, "outage", _WINDOW)}
    for number, (happened, _, heading, why) in enumerate(_OUTAGES):
        row = rows[f"A-{number}"]
        assert (row["heading"], row["why"]) == (heading, why), happened


def test_the_point_that_comes_to_a_boundary_first_counts() -> None:
    """What governs may be a route reading without a trend: the sensor beside it has one."""
    plant = _plant(("opened", 1.0, {"state": "confirmed", "level_since": ago(-10)}))
    sooner = _RISING | {"trend_boundary_days": 9.0, "position": "pump-de", "axis": "vertical"}
    tell(plant, "point", member="pump", **sooner)
    tell(plant, "point", member="pump", **sooner | {"trend_boundary_days": 30.0, "axis": "axial"})
    tell(plant, "point", member="motor", **sooner | {"trend_boundary_days": 1.0})
    (row,) = _asked(plant, "outage", _WINDOW)
    assert (row["heading"], row["why"]) == (
        "must go in", "pump-de vertical at C/D on 2026-03-10 at the present rate",
    )  # fmt: skip


def test_what_needs_no_outage_is_counted() -> None:
    plant = Plant()
    needless = [("done", "in-service"), ("confirmed", "laid-up"), ("confirmed", "standby")]
    for number, (state, service_state) in enumerate(needless):
        asset = f"A-{number}"
        tell(plant.train(asset, service_state=service_state), asset=asset)
        happen(plant, "opened", 1.0, case=number, asset=asset, state=state)
    with plant.connect() as session:
        asked: list[tuple[str, Row]] = [("outage", _WINDOW), ("without_outage", {"site": None})]
        rows = [answers(session, _SQL[name], with_, 60) for name, with_ in asked]
    assert rows == [[], [{"cases": 3}]]


def test_days_begin_at_midnight_of_the_site() -> None:
    plant = Plant().add("sites", site="s1", name="One", time_zone="Pacific/Auckland").train()
    happen(tell(plant), "opened", 0.0, happened_at=dt.datetime(2026, 2, 21, 12, tzinfo=dt.UTC))
    with plant.connect() as session:
        headings = [
            [row["heading"] for row in answers(session, _SQL["sheet"], _WEEK | {"since": day}, 60)]
            for day in ("2026-02-22", "2026-02-23")
        ]
    assert headings == [["new"], []], "it is the 22nd in Auckland from 11 UTC of the 21st on"


def test_the_next_window_is_as_long_and_one_interval_later() -> None:
    windows = {
        ("2026-03-09", "2026-03-11"): ("2026-04-06", "2026-04-08"),
        ("2026-03-09", "2026-04-19"): ("2026-04-20", "2026-05-31"),
    }
    with Plant().connect() as session:
        for (first, last), following in windows.items():
            (row,) = answers(session, _SQL["next"], {"first": first, "last": last}, 60)
            assert (str(row["next_first"]), str(row["next_last"])) == following


@pytest.mark.parametrize(
    ("days", "fault"),
    [((3, 2, 9, 9), "ends before it begins"), ((2, 3, 9, 8), "ends before it begins"),
     ((2, 3, 3, 9), "begins before 2026-03-03 ends")],
)  # fmt: skip
def test_windows_that_do_not_fit_are_refused(days: tuple[int, ...], fault: str) -> None:
    with pytest.raises(ValueError, match=fault):
        Windows(*(dt.date(2026, 3, day) for day in days))


_PARTNERS: list[tuple[Row, Row | None, Row, tuple[str, str]]] = [
        ({"service_state": "standby"}, {"level": "normal"}, {},
         ("yes", "B: stands by, normal")),
        ({"service_state": "standby"}, {"level": "alert"}, {},
         ("no", "B: alert, or an open case")),
        ({"service_state": "standby"}, {"level": "normal"}, {"state": "new"},
         ("no", "B: alert, or an open case")),
        ({"service_state": "standby"}, {"level": "normal"}, {"state": "verified"},
         ("yes", "B: stands by, normal")),
        ({"service_state": "standby"}, {"level": "unknown"}, {},
         ("unknown", "B: condition not known")),
        ({"service_state": "standby"}, None, {}, ("unknown", "B: condition not known")),
        ({}, {"level": "normal"}, {}, ("unknown", "B: not known to stand by, normal")),
        ({"service_state": "laid-up"}, {"level": "normal"}, {}, ("no", "B: laid-up")),
        ({"duty_group": None}, {"level": "normal"}, {},
         ("no", "no other machine is in duty group P-101/B")),
        ({"site": "s2"}, {"level": "normal"}, {},
         ("no", "no other machine is in duty group P-101/B")),
    ]  # fmt: skip


def test_a_stand_in_must_stand_by_and_be_well() -> None:
    plant = Plant()
    for number, (partner, told, case, _) in enumerate(_PARTNERS):
        first, second = f"A-{number}", f"B-{number}"
        plant.train(first, duty_group=first).train(second, **{"duty_group": first} | partner)
        if told is not None:
            tell(plant, "asset", asset=second, **told)
        if case:
            happen(plant, "opened", 3.0, case=number, asset=second, **case)
    rows = {row["asset"]: row for row in plant.view("standby_available")}
    for number, (partner, _, _, (standby, words)) in enumerate(_PARTNERS):
        row = rows[f"A-{number}"]
        named = words.replace("B:", f"B-{number}:").replace("P-101/B", f"A-{number}")
        assert (row["standby"], row["standby_words"]) == (standby, named), partner


def test_without_a_group_nobody_knows() -> None:
    rows = Plant().train().view("standby_available")
    told = [(row["standby"], row["standby_words"]) for row in rows]
    assert told == [("unknown", "no duty group is registered")]


def test_empty_stores_have_empty_lists() -> None:
    with Plant().connect() as session:
        for view in ("standby_available", "case_outages"):
            assert session.table(view).fetchall() == []
        for name, asked in (("sheet", _WEEK), ("outage", _WINDOW)):
            assert answers(session, _SQL[name], asked, 60) == []
        (since,) = answers(session, _SQL["since"], {}, 60)
    assert since["since"] == AS_OF.date() - dt.timedelta(days=7)
