"""Shapes of tables, changes and lookups: rows in one envelope."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.examples import CHANGE_EXAMPLE, LOOKUP_EXAMPLE
from api.models import Criticality, Level, Model, SnapshotOut, Zone, described

Display = Annotated[
    Literal["site"] | None,
    Field(description="`site`: values as the people of each site read them as well, in `display`"),
]


class PageQuery(BaseModel):
    """Which page of a list, and in which form; what is asked beside stands in its heirs."""

    model_config = ConfigDict(extra="forbid")

    limit: Annotated[int, Field(ge=1, le=1000, description="most rows on a JSON page")] = 100
    cursor: Annotated[
        str | None, Field(description="where to go on; opaque, from `next` of the page before")
    ] = None
    format: Annotated[
        str | None, Field(description="instead of `Accept`: json, ndjson, csv or arrow")
    ] = None

    def _chosen(self, names: set[str]) -> dict[str, list[str]]:
        """What was given of these filters, by their names in the URL, each value once."""
        given = self.model_dump(include=names, exclude_none=True, by_alias=True)
        return {name: sorted(set(values)) for name, values in given.items()}


class ColumnOut(Model):
    """A column of a table."""

    name: str = described("name of the column")
    type: str = described("Arrow type")
    description: str | None = described("what it means, where the open schema says so")
    unit: str | None = described("UCUM unit, or where the unit stands; null where there is none")


class RowList(Model):
    """One page of rows of a table."""

    items: list[dict[str, Any]] = described("rows, each an object with every column")
    columns: list[ColumnOut] = described("what the columns are")
    next: str | None = described("relative URL of the next page; null on the last one")
    snapshot: SnapshotOut = described("the state all pages are taken from")


class Change(Model):
    """A change of level, zone or basis, as the judge recorded it."""

    model_config = ConfigDict(json_schema_extra={"examples": [CHANGE_EXAMPLE]})

    seq: int = described("number of the change; strictly increases")
    scope: str = described("asset, member or point")
    site: str = described("site code")
    asset: str = described("asset tag")
    member: str | None = described("machine of the train; null for the asset")
    position: str | None = described("measuring position; null above points")
    axis: str | None = described("direction; null above points")
    external_id: str | None = described("identifier of the asset in the maintenance system")
    level_from: Level | None = described("level before; null for the first time")
    level_to: Level = described("level now; `unknown` is not healthy")
    zone_from: Zone | None = described("zone before")
    zone_to: Zone | None = described("zone now")
    basis: str = described("what the level now rests on")
    reason: str = described("one sentence with the numbers")
    measured_at: dt.datetime | None = described("time of the judged reading, UTC")
    judged_at: dt.datetime = described("the moment it was judged for, UTC")


class ChangeList(Model):
    """Changes after a number, in their order."""

    items: list[Change] = described("changes of this page, by `seq`")
    after: int = described("where to go on: the number to ask for changes after, next time")
    more: bool = described("whether there are further changes now")
    next: str = described("relative URL to go on with, now or at any later time")
    newest: int = described("number of the newest change there is in this state; 0 without any")
    snapshot: SnapshotOut = described("the state this is taken from")


class ChangeQuery(BaseModel):
    """Which changes."""

    model_config = ConfigDict(extra="forbid")

    after: Annotated[int, Field(ge=0, le=2**62, description="changes behind this number")] = 0
    limit: Annotated[int, Field(ge=1, le=1000, description="most changes on a page")] = 100
    site: Annotated[list[str] | None, Field(description="site code")] = None
    scope: Annotated[
        list[str] | None, Field(description="asset, member or point; asset if not given")
    ] = None


class ConditionQuery(PageQuery):
    """Which conditions. A filter given several times lets each of its values pass."""

    display: Display = None
    scope: Annotated[
        str, Field(pattern="^(asset|member|point)$", description="asset, member or point")
    ] = "asset"
    site: Annotated[list[str] | None, Field(description="site code")] = None
    asset: Annotated[list[str] | None, Field(description="asset tag")] = None
    external_id: Annotated[
        list[str] | None,
        Field(description="identifier of the asset in the maintenance system; not of a machine"),
    ] = None
    area: Annotated[list[str] | None, Field(description="area of the site")] = None
    class_: Annotated[
        list[str] | None, Field(alias="class", description="class of a machine in the train")
    ] = None
    criticality: Annotated[list[Criticality] | None, Field(description="criticality class")] = None
    level: Annotated[list[Level] | None, Field(description="level as served now")] = None
    zone: Annotated[list[Zone] | None, Field(description="zone as served now")] = None
    trend: Annotated[
        list[str] | None, Field(description="state of the trend: rising, falling, ...")
    ] = None

    def filters(self) -> dict[str, list[str]]:
        """The filters given by their names in the URL, each value once."""
        left_out = {"limit", "cursor", "format", "scope", "display"}
        return self._chosen(set(type(self).model_fields) - left_out)


class AssetName(Model):
    """An asset by our code."""

    site: str = described("site code")
    asset: str = described("asset tag")


class MachineName(AssetName):
    """An asset, or a machine in it, by our code."""

    member: str | None = described("machine in it; null for the asset itself")


class Lookup(Model):
    """Assets to look up: by our code, by the maintenance system's, or both."""

    model_config = ConfigDict(json_schema_extra={"examples": [LOOKUP_EXAMPLE]})

    assets: list[AssetName] = Field(
        default_factory=list, max_length=10_000, description="assets by our code"
    )
    external_ids: list[str] = Field(
        default_factory=list, max_length=10_000,
        description="assets, or machines in them, by their identifier in the maintenance system",
    )  # fmt: skip


class LookupResult(Model):
    """What was found, and what was not: nothing is left out in silence."""

    items: list[dict[str, Any]] = described(
        "a row of `GET /v1/conditions` for each asset found, and one of scope `member` for each "
        "machine"
    )
    found_external_ids: dict[str, MachineName] = described("whose condition each identifier led to")
    missing_assets: list[AssetName] = described("not registered, or nothing is judged of them")
    missing_external_ids: list[str] = described(
        "no asset and no machine bears them, or nothing is judged of it; `ambiguous_external_ids` "
        "apart"
    )
    ambiguous_external_ids: list[str] = described("identifiers that several bear")
    snapshot: SnapshotOut = described("the state this is taken from")
