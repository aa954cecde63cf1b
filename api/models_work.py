"""Shapes of maintenance events, explanations and routes."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, model_validator

from api.examples_cases import EVENTS_EXAMPLE
from api.models import Model, SnapshotOut, described
from api.models_lists import PageQuery

_Name = Annotated[str, Field(min_length=1, max_length=200)]


def _told(text: str) -> Any:
    return Field(None, description=text)


class EventIn(Model):
    """What was done to a machine, as the maintenance system reports it.

    Codes are those of `docs/vocabulary.md`; one that is not known is refused like any item of a
    file, with its reason.
    """

    event: _Name = described("identifier of the event in its source; later versions bear the same")
    version_at: AwareDatetime | None = _told("when the source last changed it; the latest counts")
    status: _Name | None = _told("valid, or cancelled where it was taken back")
    object: _Name | None = _told("external id of the asset or of a machine of it; or else:")
    site: _Name | None = _told("site code")
    asset: _Name | None = _told("asset tag")
    member: _Name | None = _told("machine of the train; null for the whole train")
    activity: _Name = described("code of the activity table")
    type: _Name | None = _told("type of maintenance")
    severity: _Name | None = _told("severity of the failure")
    failure: _Name | None = _told("functional, potential or none")
    as_found: _Name | None = _told("failure mode as found")
    started_at: AwareDatetime = described("work began, with its offset")
    ended_at: AwareDatetime | None = _told("work ended, with its offset")
    down_hours: Annotated[float, Field(ge=0, allow_inf_nan=False)] | None = _told(
        "time the machine was down, in hours"
    )
    cost: Annotated[float, Field(ge=0, allow_inf_nan=False)] | None = _told(
        "cost in the currency the source keeps"
    )
    order_id: _Name | None = _told("work order in the maintenance system")
    note: Annotated[str, Field(max_length=4000)] | None = _told("what the technician wrote")

    @model_validator(mode="after")
    def _has_a_machine(self) -> EventIn:
        by_code = self.site is not None and self.asset is not None
        loose = self.site is not None or self.asset is not None or self.member is not None
        if self.object is None and not by_code:
            raise ValueError("the machine is missing; state object, or site and asset")
        if self.object is not None and loose:
            raise ValueError(
                "object names the machine already; site, asset and member are not for it"
            )
        return self


class EventsIn(Model):
    """Events of one source. The same list again is the same package."""

    model_config = ConfigDict(json_schema_extra={"examples": [EVENTS_EXAMPLE]})

    source: Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[\w .:/-]+$")] = (
        described("who reports; a source of its own, apart from those that send files")
    )
    events: list[EventIn] = Field(min_length=1, max_length=10_000, description="the events")

    @model_validator(mode="after")
    def _one_way_of_naming(self) -> EventsIn:
        if len({event.object is None for event in self.events}) > 1:
            raise ValueError("name all machines by object, or all by site, asset and member")
        return self


class StepOut(Model):
    """One step of a judgement."""

    key: str = described("which step, for programs")
    title: str = described("which step, in words")
    said: list[str] = described("what was found, in sentences with the numbers")


class ExplainedSeriesOut(Model):
    """One trend line of a point: its steps, and the figures they are told from."""

    name: str = described("quantity, detector, band and feature")
    governs: bool = described("whether this one gives the level of the point")
    steps: list[StepOut] = described("the steps, in order")
    facts: dict[str, Any] = described("rows of the views each step was read off, by name")


class ExplainedPointOut(Model):
    """One point: its condition, its series, and which of them governs."""

    condition: dict[str, Any] = described("its row of `condition_current`")
    series: list[ExplainedSeriesOut] = described("its series; the governing one first")
    steps: list[StepOut] = described("how the level of the point comes from them")


class ExplanationOut(Model):
    """Why a machine train is judged as it is. A screening aid, not a protection system."""

    as_of: dt.datetime = described("the moment it is judged for, UTC")
    as_published: bool = described("whether its conditions are those that were published")
    asset: dict[str, Any] = described("row of `condition_current` of the train")
    members: list[dict[str, Any]] = described("rows of its machines")
    points: list[ExplainedPointOut] = described("the points asked about, or the one that governs")
    roll_up: list[StepOut] = described("how the level of the train comes from its points")
    snapshot: SnapshotOut = described("the state its readings, registry and limits are of")


class ExplanationQuery(BaseModel):
    """What is to be explained; without a position the point that governs."""

    model_config = ConfigDict(extra="forbid")

    member: Annotated[str | None, Field(description="a machine of the train")] = None
    position: Annotated[str | None, Field(description="a measuring position")] = None
    axis: Annotated[str | None, Field(description="a direction")] = None
    as_of: Annotated[
        AwareDatetime | None, Field(description="judge for that moment, with its offset")
    ] = None


class RouteListQuery(PageQuery):
    """Which routes, or walks or stops of one."""


class RoutesQuery(RouteListQuery):
    """Which routes."""

    site: Annotated[list[str] | None, Field(description="site code")] = None
    state: Annotated[
        list[Literal["never-walked", "in-time", "due", "overdue"]] | None,
        Field(description="how the next walk stands"),
    ] = None


class RouteLinks(Model):
    """Where to go on from a route."""

    stops: str = described("relative URL of its stops as rows")
    walks: str = described("relative URL of its walks")
    sheet: str = described("relative URL of the sheet of a walk")


class RouteOut(Model):
    """A walked route: how well it is walked, and its stops."""

    route: str = described("route code")
    site: str = described("site code")
    time_zone: str = described("IANA time zone of the site; times on a sheet are of it")
    compliance: dict[str, Any] = described("its row of the view `route_compliance`")
    stops: list[dict[str, Any]] = described("stops in the order of the walk, with the last reading")
    links: RouteLinks = described("where to go on")
    snapshot: SnapshotOut = described("the state this is taken from")


class SheetOut(Model):
    """Rows of the sheet of a walk, values in the unit of the meter."""

    items: list[dict[str, Any]] = described("rows by the columns of the workbook, in its order")
    next: None = described("always null: a sheet is whole")
    snapshot: SnapshotOut = described("the state this is taken from")


class SheetQuery(BaseModel):
    """Which sheet."""

    model_config = ConfigDict(extra="forbid")

    format: Annotated[str | None, Field(description="instead of `Accept`: xlsx or json")] = None

    date: Annotated[
        dt.date | None, Field(description="day of the walk, filled in where it is given")
    ] = None


class FilledSheetQuery(BaseModel):
    """What is handed back."""

    model_config = ConfigDict(extra="forbid")

    file: Annotated[
        str, Field(pattern=r"^[^/\\\x00-\x1f]{1,200}$", description="what the file is called")
    ] = "sheet.xlsx"
    wait: Annotated[
        float, Field(ge=0, le=30, description="seconds to wait for it to be taken in")
    ] = 0.0
