"""Shapes of requests and answers. Every field says what it means, and its unit.

Times are UTC (RFC 3339). The same words as in the dataset: what is nested here
stands there in the columns of `condition_current`.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.examples import ASSET_EXAMPLE, CONDITION_EXAMPLE, PROBLEM_EXAMPLE

Level = Literal["normal", "watch", "alert", "danger", "unknown"]
Zone = Literal[
    "A", "B", "C", "D", "A-B",
    "below-start-up", "below-alarm", "above-alarm", "above-shutdown",
    "accepted", "not-accepted",
]  # fmt: skip
CoverageState = Literal["normal", "partial", "none"]
TrendState = Literal["rising", "falling", "level", "not-judged"]
Criticality = Literal["A", "B", "C"]


def described(text: str) -> Any:
    """A required field and what it means."""
    return Field(description=text)


class Model(BaseModel):
    """Closed and frozen: no field that is not described."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class ProblemDetail(Model):
    """One fault of a request."""

    detail: str = described("what is wrong, and what is allowed")
    pointer: str = described("JSON pointer to the fault: /query/NAME, /path/NAME or /body/...")
    code: str = described("what kind of fault it is, for programs")


class Problem(Model):
    """An error (RFC 9457)."""

    model_config = ConfigDict(json_schema_extra={"examples": [PROBLEM_EXAMPLE]})

    type: str = described("relative URI of the problem type; it is a page of this server")
    title: str = described("the problem type in words")
    status: int = described("HTTP status")
    detail: str = described("what was wrong with this request, and what is allowed")
    instance: str = described("request id, as in the header X-Request-Id and in the server's log")
    newest: int | None = Field(
        None, description="the newest number there is, where `after` lies beyond it"
    )
    errors: list[ProblemDetail] | None = Field(
        None, description="every fault found, where the request is not valid"
    )


class ProblemType(Model):
    """A problem type: what it means and what helps."""

    type: str = described("relative URI of the problem type")
    title: str = described("the problem type in words")
    status: int = described("HTTP status it comes with")
    meaning: str = described("what it means")
    remedy: str = described("what helps")


class ProblemTypes(Model):
    """Every problem type of this server."""

    items: list[ProblemType] = described("problem types, by type")


class SnapshotOut(Model):
    """The published state an answer is taken from; no answer mixes two."""

    seq: int = described("number of the state; counts up by one")
    published_at: dt.datetime = described("when it was published, UTC")
    as_of: dt.datetime = described("the moment its conditions were judged for, UTC")
    versions: dict[str, int] = described("Delta version of each table of the dataset")


class AssetLinks(Model):
    """Where to go on from an asset."""

    condition: str | None = described(
        "relative URL of the judged condition with its evidence; null where nothing is judged "
        "(a measuring station, or a removed asset)"
    )


class AssetItem(Model):
    """A registered asset (a machine train) and how it stands."""

    model_config = ConfigDict(json_schema_extra={"examples": [ASSET_EXAMPLE]})

    site: str = described("site code")
    asset: str = described("asset tag, unique within its site")
    name: str = described("name in plain words")
    area: str | None = described("area of the site")
    criticality: str | None = described("criticality class: A critical, B important, C general")
    service_state: str = described("in-service, standby, laid-up or removed")
    external_id: str | None = described("identifier in the maintenance system")
    level: Level | None = described(
        "what to do about it; `unknown` is not healthy; null where nothing is judged"
    )
    zone: Zone | None = described(
        "zone or grade in the limit set's own words; null: none was given"
    )
    basis: str | None = described("what the level rests on")
    reason: str | None = described("one sentence with the numbers")
    next_step: str | None = described("what to do next, in plain words")
    since: dt.date | None = described("first site-local day of the unbroken run at this or worse")
    coverage: CoverageState | None = described("how much of the machine train is seen")
    measured_at: dt.datetime | None = described("time of the judged reading, UTC")
    stale_after: dt.datetime | None = described("from then on the evidence does not hold, UTC")
    links: AssetLinks = described("where to go on")


class AssetList(Model):
    """One page of assets, sorted by site and asset."""

    items: list[AssetItem] = described("the assets of this page")
    next: str | None = described("relative URL of the next page; null on the last one")
    snapshot: SnapshotOut = described("the state all pages are taken from")


class AssetQuery(BaseModel):
    """What to list. A filter given several times lets each of its values pass."""

    model_config = ConfigDict(extra="forbid")

    limit: Annotated[int, Field(ge=1, le=1000, description="most assets on a page")] = 100
    cursor: Annotated[
        str | None, Field(description="where to go on; opaque, from `next` of the page before")
    ] = None
    site: Annotated[list[str] | None, Field(description="site code")] = None
    area: Annotated[list[str] | None, Field(description="area of the site")] = None
    criticality: Annotated[list[Criticality] | None, Field(description="criticality class")] = None
    class_: Annotated[
        list[str] | None, Field(alias="class", description="class of a machine in the train")
    ] = None
    zone: Annotated[list[Zone] | None, Field(description="zone as served now")] = None
    level: Annotated[
        list[Level] | None, Field(description="level as served now; `unknown` is not healthy")
    ] = None

    def filters(self) -> dict[str, list[str]]:
        """The filters given, each value once."""
        given = self.model_dump(exclude={"limit", "cursor"}, exclude_none=True, by_alias=True)
        return {name: sorted(set(values)) for name, values in given.items()}


class Boundaries(Model):
    """Zone boundaries in force, in the unit of the evidence."""

    a_b: float | None = described("between zones A and B, or start-up; `unit` of the evidence")
    b_c: float | None = described("between zones B and C, or alarm, or the acceptance value")
    c_d: float | None = described("between zones C and D, or shutdown; `unit` of the evidence")
    watch: float | None = described("above which a change from the baseline is a watch")
    alert: float | None = described("above which a change from the baseline is an alert")


class Evidence(Model):
    """The value a level rests on, and where it was measured."""

    member: str | None = described("machine of the train the position sits on")
    position: str | None = described("measuring position")
    axis: str | None = described("direction")
    quantity: str | None = described("physical quantity")
    detector: str | None = described("detector the value is judged as")
    band: str | None = described("frequency band as LOW-HIGHHz, in Hz")
    value: float | None = described("the judged value, in `unit`")
    unit: str | None = described("UCUM unit of value, boundaries and trend")
    boundaries: Boundaries = described("zone boundaries it is compared with")
    baseline: float | None = described("what it was when it was well, in the bin compared in")
    running_state: str | None = described("running state at the judged reading")
    operating_bin: str | None = described("bin the trend compares in; null without a speed")
    distrust: str | None = described("why readings here are doubted; null where none is")


class Limit(Model):
    """The limit set in force, and how sure it is."""

    set: str | None = described("limit set; null where none fits")
    group: str | None = described("group or class within the limit set")
    edition: str | None = described("standard and edition in words")
    confidence: str | None = described("how well the values are confirmed: V1, V2, C, M or own")
    verified: bool | None = described("true where the values were seen in a text quoting them")
    support: str | None = described("support stiffness in this direction: rigid or flexible")
    assumed: str | None = described("inputs of the limit that are assumed; null where none is")


class Trend(Model):
    """Rise, fall or step of the evidence, from daily values of steady running in one bin.

    The time to a boundary is one at the present rate, never a remaining life.
    """

    state: TrendState | None = described("rising, falling, level or not-judged")
    reason: str | None = described("the trend in plain words, or why none is judged")
    window_days: int | None = described("days the trend is taken from")
    days: int | None = described("daily values in the trend, count")
    per_30_days: float | None = described("slope times 30 days, in `unit` of the evidence")
    low: float | None = described("lower 95 % bound, in `unit` of the evidence")
    high: float | None = described("upper 95 % bound, in `unit` of the evidence")
    p: float | None = described("probability of such a trend by chance, corrected for dependence")
    p_fleet: float | None = described("the same, adjusted for all trends of the fleet")
    step_on: dt.date | None = described("first site-local day behind the latest step")
    step_size: float | None = described("size of that step, in `unit` of the evidence")
    boundary: str | None = described("next boundary of a rising value: A/B, B/C or C/D")
    boundary_days: float | None = described("days to it at the present rate; null beyond 90")
    boundary_days_low: float | None = described(
        "lower 95 % bound of that, in days, by the line that may come there first"
    )
    boundary_days_high: float | None = described(
        "upper 95 % bound, by the other line; null beyond the horizon"
    )
    form: str | None = described("the line that comes there first: linear or log-linear")


class Coverage(Model):
    """How much of the machine is seen: one sensor never makes a train healthy."""

    state: CoverageState | None = described("normal, partial or none")
    measured_points: int | None = described("bearing positions that are judged, count")
    judgeable_points: int | None = described("bearing positions that are registered, count")
    blind_to: str | None = described("faults this measurement cannot see; null where none")


class Judged(Model):
    """A judgement with its whole evidence."""

    level: Level = described("what to do about it; `unknown` is not healthy")
    zone: Zone | None = described(
        "zone or grade in the limit set's own words; null: none was given"
    )
    basis: str = described("what the level rests on")
    reason: str = described("one sentence with the numbers")
    next_step: str = described("what to do next, in plain words")
    caution: str = described("what this judgement is not")
    since: dt.date | None = described("first site-local day of the unbroken run at this or worse")
    last_level: Level | None = described("level before it went unknown")
    held_since: dt.datetime | None = described(
        "since when no reading could be judged: standstill, silence or doubt; null while measured"
    )
    observations: str | None = described(
        "what was seen here on routes lately, in words; it changes no level"
    )
    stale: bool = described(
        "true where the judged level was taken back because readings stopped coming since"
    )
    evidence: Evidence = described("the value the level rests on")
    limit: Limit = described("the limit set in force")
    trend: Trend = described("how the evidence moves")
    coverage: Coverage = described("how much is seen")
    measured_at: dt.datetime | None = described("time of the judged reading, UTC")
    stale_after: dt.datetime | None = described("from then on the evidence does not hold, UTC")
    as_of: dt.datetime = described("the moment this was judged for, UTC")
    display: dict[str, Any] | None = Field(
        None, description="with `display=site`: the profile of the site, and values and times in it"
    )


class _Asset(Model):
    site: str = described("site code")
    asset: str = described("asset tag, unique within its site")
    name: str = described("name in plain words")
    area: str | None = described("area of the site")
    criticality: str | None = described("criticality class: A critical, B important, C general")
    service_state: str = described("in-service, standby, laid-up or removed")
    external_id: str | None = described("identifier in the maintenance system")


class _Member(Model):
    member: str = described("machine of the train")


class _Point(Model):
    member: str | None = described("machine of the train the position sits on")
    position: str = described("measuring position")
    axis: str | None = described("direction")


# The place is the last base, because the fields of the last base come first in a body.


class MemberCondition(Judged, _Member):
    """The judgement of one machine of the train: its worst point."""


class PointCondition(Judged, _Point):
    """The judgement of one measuring position and direction."""


class AssetCondition(Judged, _Asset):
    """The judgement of a machine train: its worst point; below it every machine and point."""

    model_config = ConfigDict(json_schema_extra={"examples": [CONDITION_EXAMPLE]})

    members: list[MemberCondition] = described("its machines")
    points: list[PointCondition] = described("its measuring positions and directions")
    snapshot: SnapshotOut = described("the state this is taken from")
