"""Shapes of the registry and of the published state."""

from __future__ import annotations

from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, Field

from api.models import Model, SnapshotOut, described
from api.models_lists import ColumnOut

REGISTRY_EXAMPLE: Final[dict[str, Any]] = {
    "assets": [
        {
            "site": "raw-water",
            "asset": "P-104",
            "name": "Raw-water pump 4",
            "area": "pump-hall",
            "criticality": "A",
            "service_state": "in-service",
            "external_id": "FL-40028",
        }
    ]
}


class RegistryOut(Model):
    """The newest registry."""

    version: int = described("its version; a change is made on one")
    entities: dict[str, int] = described("entities that stand, by kind, count")
    links: dict[str, str] = described("relative URL of the entities of each kind")


class EntityList(Model):
    """Entities of one kind."""

    items: list[dict[str, Any]] = described("entities, each an object with every column")
    columns: list[ColumnOut] = described("what the columns are")
    next: None = described("always null: all are given at once")
    version: int = described("version of the registry")


class RegistryChanged(Model):
    """What a change came to."""

    version: int = described("version of the registry afterwards")
    dry_run: bool = described("whether nothing was recorded")
    changes: dict[str, dict[str, int]] = described(
        "by kind: entities that are new, changed, unchanged, withdrawn, count"
    )
    replaced: str = described("stored readings that are placed anew, in words")
    notes: list[str] = described(
        "limit sets that are assigned, or would be, and cannot be used, each with its place and "
        "why; told where the change states `limit_assignments`. The change stands all the same"
    )


class CommissioningQuery(BaseModel):
    """Which mountings."""

    model_config = ConfigDict(extra="forbid")

    site: Annotated[list[str] | None, Field(description="site code")] = None
    every: Annotated[bool, Field(description="also those that are passed")] = False
    format: Annotated[
        str | None, Field(description="instead of `Accept`: json, ndjson, csv or arrow")
    ] = None


class CommissioningList(Model):
    """Mountings that are on, with the checks that are open."""

    items: list[dict[str, Any]] = described("mountings; `open_checks` is null where none is open")
    columns: list[ColumnOut] = described("what the columns are")
    next: None = described("always null: all are given at once")


class CommissioningOut(Model):
    """A mounting and its checks."""

    mounting: dict[str, Any] = described("the mounting as registered")
    checks: list[dict[str, Any]] = described("checks it needs, and how each stands")
    steps: list[dict[str, Any]] = described("every step, in order")


class FileOut(Model):
    """A data file of a table."""

    path: str = described("path below the folder of the dataset's tables")
    rows: int = described("rows, count")


class TableFiles(Model):
    """A table of the published state, so that another engine can read the same."""

    table: str = described("name of the table")
    version: int = described("Delta version")
    rows: int = described("rows, count")
    columns: list[ColumnOut] = described("what its columns are")
    files: list[FileOut] | None = described(
        "Parquet files of that version; null for a key limited to sites, where files hold others"
    )


class SnapshotFiles(Model):
    """The newest published state with its tables, files and schemas."""

    snapshot: SnapshotOut = described("the state")
    format_version: int = described("format version of the dataset")
    items: list[TableFiles] = described("tables the state ties together")
    next: None = described("always null: all are given at once")
