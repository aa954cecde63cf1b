"""The life of cases, step by step, as rule W1 and docs/work.md tell it."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from warehouse.work.acting import faults_of, field_faults
from warehouse.work.case import Case, Happening
from warehouse.work.folding import fold
from warehouse.work.inputs import Action, Change, Inputs, Rules, Work
from warehouse.work.stepping import new_events

START = dt.datetime(2025, 1, 1, tzinfo=dt.UTC)
MACHINE = ("works", "M-1", "motor")


def day(number: float) -> dt.datetime:
    return START + dt.timedelta(days=number)


class Story:
    """What happens to one machine, day by day."""

    def __init__(self) -> None:
        self.inputs = Inputs()

    def change(
        self, on: float, level: str, basis: str = "severity", read: float | None = None
    ) -> Story:
        seq = len(self.inputs.changes) + 1
        measured_at = None if read is None else day(read)
        change = Change(seq, day(on), basis, level, f"{level} of {basis}", measured_at)
        self.inputs.changes.append(change)
        return self

    def act(self, on: float, kind: str, case: int | None = 1, **said: Any) -> Story:
        said = {"basis": "severity" if case else None, "by": "A. Example"} | said
        until = said.pop("until", None)
        self.inputs.actions.append(
            Action(
                seq=len(self.inputs.actions) + 1, at=day(on), kind=kind, case_id=case,
                after_change=len(self.inputs.changes),
                until=None if until is None else day(until), **said,
            )
        )  # fmt: skip
        return self

    def work(self, on: float, outcome: str | None = None, **said: Any) -> Story:
        known = None if outcome is None else day(on + 3)
        values: dict[str, Any] = {"id": "cmms/1", "restoring": True} | said
        self.inputs.works.append(Work(at=day(on), outcome=outcome, outcome_at=known, **values))
        return self

    def happened(self, until: float = 400) -> list[Happening]:
        return fold(self.inputs, {}, Rules(), day(until))

    def kinds(self, until: float = 400) -> list[str]:
        return [one.kind for one in self.happened(until)]

    def told(self, until: float = 400) -> list[str]:
        return [one.kind for one in self.happened(until) if one.told]

    def case(self, until: float = 400) -> Case:
        return self.happened(until)[-1].case


def test_a_weakness_goes_its_whole_way() -> None:
    story = Story().change(0, "alert").act(1, "acknowledge").act(2, "confirm").act(3, "request")
    story.work(10, "effective").change(12, "normal").act(14, "dispose", disposition="real")
    assert story.kinds() == [
        "opened", "acknowledged", "confirmed", "work-requested", "done", "cleared", "verified",
        "disposed", "closed",
    ]  # fmt: skip
    assert story.happened()[-1].at == day(12 + 30)
    assert (story.case(41).state, story.case(42).state) == ("verified", "closed")


def test_work_between_the_reading_and_its_judging_is_done_on_the_case_it_opens() -> None:
    story = Story().change(1, "alert", read=0.4).act(1.2, "request", order_id="WO-1")
    story.work(0.6, "effective")
    assert story.kinds() == ["opened", "done", "commented", "verified"]
    assert story.case(1).done_by == "cmms/1"


@pytest.mark.parametrize(("worked", "read"), [(0.4, 0.6), (0.4, 0.4), (0.4, None)])
def test_work_before_the_reading_that_opens_a_case_has_not_helped(
    worked: float, read: float | None
) -> None:
    assert Story().work(worked).change(1, "alert", read=read).kinds() == ["opened"]


def test_work_on_a_suppressed_weakness_is_not_done_on_what_opens_when_it_ends() -> None:
    story = Story().act(0, "suppress", None, until=5, comment="known").change(1, "alert", read=0.4)
    assert story.work(2).kinds() == ["opened"]


@pytest.mark.parametrize("level", ["normal", "unknown"])
def test_what_is_well_or_not_known_opens_nothing(level: str) -> None:
    assert Story().change(0, level).kinds() == []


def test_unknown_closes_nothing_either() -> None:
    assert Story().change(0, "danger").change(1, "unknown", "no-fresh-reading").kinds() == [
        "opened"
    ]


def test_flapping_is_told_once() -> None:
    story = Story()
    for number in range(40):
        story.change(number, "alert" if number % 2 == 0 else "normal")
    assert story.told() == ["opened"]
    assert story.case().case_id == 1


def test_what_comes_back_after_long_is_told_again_in_the_case_that_is_still_open() -> None:
    story = Story().change(0, "alert").change(1, "normal").change(32, "alert")
    assert story.told() == ["opened", "returned"]


def test_what_comes_back_after_the_case_was_closed_is_another_case() -> None:
    story = Story().change(0, "alert").act(0.5, "dispose", disposition="real").change(1, "normal")
    story.change(40, "watch", "trend").change(41, "alert")
    opened = [one.case.case_id for one in story.happened() if one.kind == "opened"]
    assert opened == [1, 3, 4]  # the trend is a weakness of its own


def test_what_comes_back_after_long_while_it_is_suppressed_is_told_when_that_ends() -> None:
    story = Story().change(0, "danger").act(0.5, "dispose", disposition="real").change(1, "normal")
    story.act(45, "suppress", None, until=60, comment="known").change(50, "watch")
    opened = [(one.at, one.case.level) for one in story.happened() if one.kind == "opened"]
    assert opened == [(day(0), "danger"), (day(60), "watch")]


def test_worse_is_told_and_the_same_level_is_not() -> None:
    story = Story().change(0, "alert").change(1, "danger").change(2, "alert").change(3, "danger")
    assert story.kinds() == ["opened", "worsened", "eased", "worsened"]
    assert story.told() == ["opened", "worsened"]


def test_another_basis_that_governs_lower_clears_what_cannot_stand_there() -> None:
    story = Story().change(0, "alert").change(5, "watch", "trend")
    assert [(one.kind, one.case.basis) for one in story.happened()] == [
        ("opened", "severity"), ("cleared", "severity"), ("opened", "trend"),
    ]  # fmt: skip


def test_a_false_alarm_stays_closed_while_it_stands_and_opens_when_it_grows_worse() -> None:
    story = Story().change(0, "alert").act(1, "dispose", disposition="false-alarm")
    story.change(2, "normal").change(3, "alert")
    assert story.kinds() == ["opened", "closed"]
    assert story.case().disposition == "false-alarm"
    worse = story.change(4, "danger")
    assert worse.kinds()[-1] == "reopened"
    assert worse.case().disposition is None


def test_what_is_accepted_comes_back_on_its_day_if_it_still_stands() -> None:
    story = Story().change(0, "alert").act(
        1, "dispose", disposition="accepted-until", until=50
    )  # fmt: skip
    assert story.case(49).state == "closed"
    assert story.told(50) == ["opened", "closed", "acceptance-expired"]
    assert story.change(20, "normal").told(100) == ["opened", "closed"]


def test_a_deferral_ends_on_its_day_or_when_it_grows_worse() -> None:
    story = Story().change(0, "watch", "trend").act(1, "defer", basis="trend", until=20)
    assert story.case(19).state == "deferred"
    assert (story.case(20).state, story.told(20)[-1]) == ("new", "deferral-expired")
    worse = story.change(5, "alert", "trend")
    assert (worse.case(19).state, worse.told(40)[-1]) == ("new", "worsened")


def test_suppressed_until_a_day_but_for_danger() -> None:
    story = Story().act(0, "suppress", None, until=10, comment="grouting").change(1, "alert")
    assert story.kinds(9.9) == []
    assert [(one.kind, one.at) for one in story.happened(11)] == [("opened", day(10))]
    assert Story().act(0, "suppress", None, until=10, comment="x").change(
        1, "danger"
    ).kinds(2) == ["opened"]  # fmt: skip
    assert story.act(5, "release", None).happened(9)[0].at == day(5)


def test_a_repair_that_did_not_help_reopens_and_is_told_once() -> None:
    story = Story().change(0, "alert").act(1, "confirm").work(5, "not-effective")
    assert story.told() == ["opened", "confirmed", "done", "repair-not-effective"]
    assert story.case().state == "confirmed"


def test_what_comes_back_after_the_work_says_that_it_did_not_help() -> None:
    story = Story().change(0, "alert").work(5, "effective").change(9, "normal").change(20, "alert")
    assert story.told()[-1] == "repair-not-effective"


def test_work_that_restores_nothing_makes_nothing_done_unless_it_bears_the_order() -> None:
    story = Story().change(0, "alert").act(1, "request", order_id="4711")
    assert story.work(3, restoring=False).case().state == "work-requested"
    assert story.work(4, restoring=False, order_id="4711", id="cmms/2").case().state == "done"


def test_work_before_the_case_or_ahead_of_now_is_no_work_on_it() -> None:
    story = Story().change(5, "alert").work(3)
    assert story.kinds() == ["opened"]
    assert story.work(9, id="cmms/2").kinds(8) == ["opened"]


def test_a_figure_changed_later_leaves_closed_cases_as_they_were() -> None:
    story = Story().change(0, "alert").act(1, "dispose", disposition="real").change(2, "normal")
    story.change(50, "alert")
    log = new_events({MACHINE: story.inputs}, [], Rules(), day(60), day(60))
    assert [row["kind"] for row in log if row["case_id"] == 3] == ["opened"]
    other = Rules(rejoin=dt.timedelta(days=365))
    assert new_events({MACHINE: story.inputs}, log, other, day(61), day(61)) == []


@pytest.mark.parametrize(
    ("kind", "said", "fault"),
    [
        ("defer", {}, "a date is needed"),
        ("defer", {"until": 0}, "must lie ahead"),
        ("confirm", {"until": 9}, "a date has no meaning"),
        ("dispose", {"disposition": "broken"}, "'broken' is not one of real, false-alarm"),
        ("dispose", {"disposition": "accepted-until"}, "a date is needed"),
        ("verify", {}, "only work that is done"),
        ("suppress", {"until": 9}, "a reason is needed"),
        ("assign", {}, "an owner is needed"),
        ("comment", {}, "a comment is needed"),
        ("acknowledge", {"by": " "}, "a named person is needed"),
    ],
)
def test_what_does_not_fit_is_told(kind: str, said: dict[str, Any], fault: str) -> None:
    story = Story().change(0, "alert")
    action = Story().act(1, kind, **said).inputs.actions[0]
    told = [*(fault for _, fault in field_faults(action)), *faults_of(action, story.case(1))]
    assert any(fault in one for one in told)


def test_what_has_been_done_is_not_done_again() -> None:
    story = Story().change(0, "alert").act(1, "confirm")
    (action,) = Story().act(2, "acknowledge").inputs.actions
    assert faults_of(action, story.case(2)) == [
        "case 1 is confirmed already",
        "allowed now: request, defer, done, dispose, assign, comment",
    ]
    closed = story.act(3, "dispose", disposition="sensor").case(4)
    assert faults_of(action, closed) == [
        "case 1 is closed as sensor; open cases only",
        "allowed now: nothing, it is closed",
    ]
