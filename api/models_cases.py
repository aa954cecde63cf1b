"""Shapes of cases: the list's filters, one with all a planner needs, acting on them, notifications.

The same words as in the tables `case_events` and `case_summaries`.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.examples_cases import (
    ACTION_EXAMPLE,
    CASE_EXAMPLE,
    NOTICE_EXAMPLE,
    SUPPRESSION_EXAMPLE,
)
from api.models import Criticality, Level, Model, SnapshotOut, described
from api.models_lists import Display, PageQuery

CaseState = Literal[
    "new", "acknowledged", "confirmed", "work-requested", "done", "verified", "deferred", "closed"
]
Disposition = Literal["real", "false-alarm", "process", "sensor", "accepted-until"]
CaseActionKind = Literal[
    "acknowledge", "confirm", "request", "defer", "done", "verify", "dispose", "assign", "comment"
]
ActionClass = Literal["repeat", "inspect-running", "inspect-stopped", "plan-repair"]
_Text = Annotated[str, Field(min_length=1, max_length=4000)]
_Person = Annotated[str, Field(min_length=1, max_length=200)]


class CaseQuery(PageQuery):
    """Which cases. A filter given several times lets each of its values pass."""

    limit: Annotated[int, Field(ge=1, le=1000, description="most cases on a JSON page")] = 100
    display: Display = None
    site: Annotated[list[str] | None, Field(description="site code")] = None
    asset: Annotated[list[str] | None, Field(description="asset tag")] = None
    area: Annotated[list[str] | None, Field(description="area of the site")] = None
    class_: Annotated[
        list[str] | None, Field(alias="class", description="class of the machine")
    ] = None
    criticality: Annotated[list[Criticality] | None, Field(description="criticality class")] = None
    level: Annotated[list[Level] | None, Field(description="level of the case")] = None
    basis: Annotated[list[str] | None, Field(description="what the level rests on")] = None
    state: Annotated[
        list[CaseState] | None, Field(description="how far it has come; open ones if not given")
    ] = None

    def filters(self) -> dict[str, list[str]]:
        """The filters given by their names in the URL, each value once."""
        left_out = {"limit", "cursor", "format", "display"}
        return self._chosen(set(type(self).model_fields) - left_out)


class CaseStanding(Model):
    """How a case stands."""

    case_id: int = described("number of the case")
    site: str = described("site code")
    asset: str = described("asset tag")
    member: str = described("machine of the train")
    basis: str = described("what is wrong")
    state: CaseState = described("how far it has come")
    level: Level = described("level of the case now")
    disposition: Disposition | None = described("what it was; null where nobody has said")
    until: dt.datetime | None = described("date of a deferral or acceptance in force, UTC")
    owner: str | None = described("who takes care of it")
    order_id: str | None = described("work order in the maintenance system")


class CaseSummary(Model):
    """What a planner needs of an open case. A notification, not an order."""

    asset_name: str | None = described("name of the asset in plain words")
    area: str | None = described("area of the site")
    asset_external_id: str | None = described("identifier of the asset in the maintenance system")
    member_external_id: str | None = described("identifier of the machine there")
    criticality: str | None = described("criticality class: A critical, B important, C general")
    priority: int | None = described("1 is first; by level and criticality")
    evidence: str | None = described("what changed, one sentence with the numbers")
    condition_since: dt.date | None = described(
        "day of the site since when the condition is that bad or worse without a break; null while "
        "another basis governs"
    )
    position: str | None = described("measuring position that governs the machine now")
    axis: str | None = described("direction of it")
    value: float | None = described("the judged value, in `unit`")
    unit: str | None = described("UCUM unit of the value")
    limit_edition: str | None = described("standard and edition; null: this basis has none")
    confidence: str | None = described(
        "how well the limits of this basis are confirmed; `common practice, no source` without a "
        "standard"
    )
    verified: bool | None = described("true where they were seen in a text quoting them")
    assumed: str | None = described("inputs of the limit that are assumed")
    distrust: str | None = described("why readings here are doubted; null where none is")
    observations: str | None = described("what was seen on routes lately; it changes no level")
    trend: str | None = described("the trend in plain words")
    blind_to: str | None = described("faults this measurement cannot see")
    action_class: ActionClass = described("what kind of action it asks for")
    respond_by: dt.datetime | None = described("until when, UTC")
    overdue: bool = described("whether that has passed and nothing was done")
    needs_outage: bool = described("whether the action needs the machine to stand")
    bearing: str | None = described("bearing, as registered")
    coupling: str | None = described("coupling or drive, as registered")
    area_classification: str | None = described("classification of the area (explosion hazard)")
    confirmed: bool = described("whether an analyst confirmed it")
    next_step: str | None = described("what to do next, in plain words")


class CaseHappening(Model):
    """One thing that happened to a case, and how it stood after it."""

    seq: int = described("number of the row of `case_events`; strictly increases")
    kind: str = described("what happened")
    happened_at: dt.datetime = described("when, UTC")
    notice: int | None = described("number of the notification; null where none is sent")
    state: CaseState = described("state after it")
    level: Level = described("level after it")
    level_since: dt.datetime = described("since when at this level, UTC")
    worst_told: Level = described("highest level told of it")
    disposition: Disposition | None = described("what it was")
    until: dt.datetime | None = described("date of a deferral or acceptance, UTC")
    owner: str | None = described("who takes care of it")
    order_id: str | None = described("work order in the maintenance system")
    person: str | None = described("person that did this; null: the rules")
    comment: str | None = described("what the person said")
    reason: str | None = described("why, in plain words")
    limits_changed: str | None = described(
        "limits of the machine's points before and behind, where they changed with it, and who "
        "assigned a set by hand; null where none did"
    )
    cause: str = described("kind of cause")
    cause_id: str = described("which one")
    recorded_at: dt.datetime = described("when it was recorded here, UTC")


class CaseOut(CaseStanding):
    """A case with all a planner needs, what work on the machine came to, and its whole life."""

    model_config = ConfigDict(json_schema_extra={"examples": [CASE_EXAMPLE]})

    level_since: dt.datetime = described("since when at this level, UTC")
    worst_told: Level = described("highest level told of it")
    opened_at: dt.datetime = described("when it was opened, UTC")
    cleared_at: dt.datetime | None = described("since when the level opens no case, UTC")
    confirmed_by: str | None = described("person that confirmed it")
    done_by: str | None = described("maintenance event or person that reported the work")
    verify_by: dt.datetime | None = described("until when it wants a second look, UTC")
    plan_by: dt.datetime | None = described("until when it wants a plan, UTC")
    summary: CaseSummary | None = described("what a planner needs; null where it is closed")
    repairs: list[dict[str, Any]] = described("what work on the machine came to, by time")
    events: list[CaseHappening] = described("its whole life, in order")
    caution: str = described("what a case is not, and what always holds")
    display: dict[str, Any] | None = Field(
        None,
        description="with `display=site`: the profile of the site, and in it the value that "
        "governs the machine now with its boundaries, and the times of the case",
    )
    snapshot: SnapshotOut = described("the state this is taken from")


class CaseActionIn(Model):
    """What a named person does about a case."""

    model_config = ConfigDict(json_schema_extra={"examples": [ACTION_EXAMPLE]})

    action: CaseActionKind = described("what is done")
    person: _Person = described("who does it: a name")
    until: dt.date | None = Field(
        None, description="day of the site: of `defer`, or accepted until"
    )
    disposition: Disposition | None = Field(None, description="what it was: of `dispose`")
    owner: _Person | None = Field(None, description="who takes care of it")
    order_id: _Person | None = Field(None, description="work order in the maintenance system")
    comment: _Text | None = Field(None, description="reason or remark")

    def said(self) -> dict[str, Any]:
        """What the action has besides its kind and person."""
        return self.model_dump(exclude={"action", "person"}, exclude_none=True)


class CaseActed(CaseStanding):
    """How a case stands after an action."""

    repeated: bool = described("whether the same request had come before: it acted once")


class SuppressionIn(Model):
    """That no new case of a machine is wanted until a day; or that it is again."""

    model_config = ConfigDict(json_schema_extra={"examples": [SUPPRESSION_EXAMPLE]})

    action: Literal["suppress", "release"] = Field(
        "suppress", description="`release` ends one before its day"
    )
    site: _Person = described("site code")
    asset: _Person = described("asset tag")
    member: _Person = described("machine of the train")
    basis: Annotated[str, Field(max_length=100)] | None = Field(
        None, description="only of this basis; null: whatever it is"
    )
    person: _Person = described("who wants it: a name")
    until: dt.date | None = Field(None, description="day of the site it ends on; not of `release`")
    comment: _Text | None = Field(None, description="the reason; needed to suppress")

    def said(self) -> dict[str, Any]:
        """What is said besides of what, by whom."""
        return self.model_dump(include={"until", "comment"}, exclude_none=True)


class SuppressionDone(Model):
    """A suppression, or its end, as it was recorded."""

    kind: Literal["suppress", "release"] = described("what was recorded")
    site: str = described("site code")
    asset: str = described("asset tag")
    member: str = described("machine of the train")
    basis: str | None = described("only of this basis; null: whatever it is")
    person: str = described("who wants it")
    repeated: bool = described("whether the same request had come before: it acted once")


class SuppressionOut(Model):
    """A suppression in force."""

    site: str = described("site code")
    asset: str = described("asset tag")
    member: str = described("machine of the train")
    basis: str | None = described("only of this basis; null: whatever it is")
    until: dt.datetime = described("when it ends, UTC")
    person: str = described("who wants it")
    reason: str | None = described("why")
    since: dt.datetime = described("since when, UTC")


class SuppressionList(Model):
    """Suppressions in force, by machine. Danger is told all the same."""

    items: list[SuppressionOut] = described("suppressions")
    next: None = described("always null: all are given at once")
    snapshot: SnapshotOut = described("the state this is taken from")


class Notice(Model):
    """What the maintenance system is told of a case, once."""

    model_config = ConfigDict(json_schema_extra={"examples": [NOTICE_EXAMPLE]})

    notice: int = described("number of the notification; counts up by one")
    case_id: int = described("number of the case")
    kind: str = described("what happened")
    happened_at: dt.datetime = described("when, UTC")
    site: str = described("site code")
    asset: str = described("asset tag")
    member: str = described("machine of the train")
    asset_external_id: str | None = described("identifier of the asset in the maintenance system")
    member_external_id: str | None = described("identifier of the machine there")
    basis: str = described("what is wrong")
    state: CaseState = described("state of the case after it")
    level: Level = described("level of the case after it")
    level_since: dt.datetime = described("since when at this level, UTC")
    opened_at: dt.datetime = described("when the case was opened, UTC")
    cleared_at: dt.datetime | None = described("since when the level opens no case, UTC")
    disposition: Disposition | None = described("what it was")
    until: dt.datetime | None = described("date of a deferral or acceptance, UTC")
    owner: str | None = described("who takes care of it")
    order_id: str | None = described("work order in the maintenance system")
    confirmed_by: str | None = described("person that confirmed it")
    person: str | None = described("person that did this; null: the rules")
    comment: str | None = described("what the person said")
    reason: str | None = described("why, in plain words")


class NoticeList(Model):
    """Notifications after a number, in their order."""

    items: list[Notice] = described("notifications of this page, by `notice`")
    after: int = described("where to go on: the number to ask for those after, next time")
    more: bool = described("whether there are further ones now")
    next: str = described("relative URL to go on with, now or at any later time")
    newest: int = described(
        "number of the newest notification in this state that this key sees; 0 without any"
    )
    snapshot: SnapshotOut = described("the state this is taken from")


class NoticeQuery(BaseModel):
    """Which notifications."""

    model_config = ConfigDict(extra="forbid")

    after: Annotated[int, Field(ge=0, le=2**62, description="those behind this number")] = 0
    limit: Annotated[int, Field(ge=1, le=1000, description="most on a page")] = 100
    site: Annotated[list[str] | None, Field(description="site code")] = None
