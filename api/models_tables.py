"""Shapes of published tables, of readings, and of SQL."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from pydantic import AwareDatetime, ConfigDict, Field

from api.models import Criticality, Level, Model, SnapshotOut, Zone, described
from api.models_lists import ColumnOut, PageQuery

QUERY_EXAMPLE: Final[dict[str, Any]] = {
    "statement": "SELECT site, level, count(*) AS machines FROM asset_conditions GROUP BY ALL",
    "limit": 1000,
}
_FORMAT = "instead of `Accept`: json, ndjson, csv or arrow"


class TableOut(Model):
    """A published table or view."""

    name: str = described("its name")
    kind: str = described("table, entity (of the registry) or view")
    purpose: str = described("what it is for")
    links: dict[str, str] = described("relative URL of its rows")


class TableList(Model):
    """Every published table and view, by name."""

    items: list[TableOut] = described("tables and views")
    next: None = described("always null: all are given at once")


class TableQuery(PageQuery):
    """Which rows. A filter given several times lets each of its values pass."""

    column: Annotated[list[str] | None, Field(description="columns wanted; all if none")] = None
    site: Annotated[list[str] | None, Field(description="site code")] = None
    asset: Annotated[list[str] | None, Field(description="asset tag")] = None
    area: Annotated[list[str] | None, Field(description="area of the site")] = None
    class_: Annotated[
        list[str] | None, Field(alias="class", description="class of a machine in the train")
    ] = None
    criticality: Annotated[list[Criticality] | None, Field(description="criticality class")] = None
    level: Annotated[list[Level] | None, Field(description="level")] = None
    zone: Annotated[list[Zone] | None, Field(description="zone")] = None
    from_: Annotated[
        AwareDatetime | None, Field(alias="from", description="window begins, with its offset")
    ] = None
    to: Annotated[
        AwareDatetime | None, Field(description="window ends before, with its offset")
    ] = None
    time: Annotated[
        str | None, Field(description="column the window is of; the first time if none")
    ] = None

    def filters(self) -> dict[str, list[str]]:
        """The filters given by their names, each value once."""
        return self._chosen({"site", "asset", "area", "class_", "criticality", "level", "zone"})

    def asked(self) -> dict[str, Any]:
        """All that is asked for, as it stands in the URL."""
        left_out = {"limit", "cursor", "format"}
        return self.model_dump(exclude=left_out, exclude_none=True, by_alias=True, mode="json")


class ReadingsQuery(PageQuery):
    """Which readings. A value is matched as it is; an empty one matches where none applies."""

    limit: Annotated[int, Field(ge=1, le=1000, description="most rows on a JSON page")] = 1000
    site: Annotated[str | None, Field(description="site code")] = None
    asset: Annotated[str | None, Field(description="asset tag")] = None
    position: Annotated[str | None, Field(description="measuring position")] = None
    axis: Annotated[str | None, Field(description="direction")] = None
    quantity: Annotated[str | None, Field(description="physical quantity")] = None
    detector: Annotated[str | None, Field(description="how the waveform became a number")] = None
    band: Annotated[str | None, Field(description="frequency band as LOW-HIGHHz")] = None
    feature: Annotated[str | None, Field(description="overall, or the line described")] = None
    method: Annotated[str | None, Field(description="how the reading was taken")] = None
    device: Annotated[str | None, Field(description="sensor, logger or meter")] = None
    channel: Annotated[str | None, Field(description="channel of the device")] = None
    source: Annotated[str | None, Field(description="source that sent it")] = None
    from_: Annotated[
        AwareDatetime | None, Field(alias="from", description="window begins, with its offset")
    ] = None
    to: Annotated[
        AwareDatetime | None, Field(description="window ends before, with its offset")
    ] = None
    points: Annotated[
        int | None,
        Field(
            ge=4, le=100_000,
            description="most readings a series: the lowest and highest of each span of time "
            "stay, so no peak is lost",
        ),
    ] = None  # fmt: skip
    column: Annotated[list[str] | None, Field(description="columns wanted; all if none")] = None
    codec: Annotated[
        Literal["lz4", "zstd", "none"],
        Field(description="how bodies of an Arrow stream are packed; most readers unpack it"),
    ] = "lz4"
    sorted: Annotated[
        bool, Field(description="by series and time; false streams faster, in no order")
    ] = True

    def place(self) -> dict[str, str]:
        """Values readings are chosen by."""
        left_out = {"limit", "cursor", "format", "from_", "to", "points", "column", "sorted"}
        left_out |= {"codec"}
        return self.model_dump(exclude=left_out, exclude_none=True)

    def asked(self) -> dict[str, Any]:
        """All that is asked for, as it stands in the URL."""
        left_out = {"limit", "cursor", "format"}
        return self.model_dump(
            exclude=left_out, exclude_none=True, exclude_defaults=True, by_alias=True, mode="json"
        )


class SqlIn(Model):
    """A statement."""

    model_config = ConfigDict(json_schema_extra={"examples": [QUERY_EXAMPLE]})

    statement: str = Field(
        min_length=1, max_length=100_000, description="one SELECT over the published views"
    )
    limit: int | None = Field(
        None, ge=1, description="most rows wanted; at most setting sql_rows are given"
    )


class SqlOut(Model):
    """Rows of a statement."""

    items: list[dict[str, Any]] = described("rows, each an object with every column")
    columns: list[ColumnOut] = described("what the columns are")
    next: None = described("always null: a statement is answered at once")
    truncated: bool = described("whether there were more rows than are given")
    snapshot: SnapshotOut = described("the state it was asked of")
