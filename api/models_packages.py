"""Shapes of what a data engineer sends and reads: packages, rejects, sources, mappings."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.examples_packages import (
    PACKAGE_EXAMPLE,
    RECEIPT_EXAMPLE,
    REPLAY_EXAMPLE,
    SOURCE_EXAMPLE,
    TRIAL_EXAMPLE,
)
from api.models import Model, described

PackageState = Literal[
    "received", "committed", "committed-with-rejects", "failed", "retracted", "re-placing"
]


class CountsOut(Model):
    """What became of the items of a package; items = accepted + duplicate + revised + rejected."""

    items: int = described("candidate values after decoding, count")
    accepted: int = described("new readings, count")
    duplicate: int = described("readings that were there already, count")
    revised: int = described("readings that replace an older value, count")
    rejected: int = described("items refused, count")
    blank: int = described("declared blanks, count")
    rejected_by_reason: dict[str, int] = described("refused items by reason code, count")


class PackageLinks(Model):
    """Where to go on from a package."""

    package: str = described("relative URL of the package and what became of it")
    rejects: str = described("relative URL of its refused items")


class ReceiptOut(Model):
    """What a sender is told: the package is durable from now on."""

    model_config = ConfigDict(json_schema_extra={"examples": [RECEIPT_EXAMPLE]})

    package: int = described("number of the package")
    repeated: bool = described("whether the same bytes had come before from this source")
    state: PackageState = described(
        "how far it is; `received` waits to be taken in, or was received before from a key of more "
        "sites"
    )
    counts: CountsOut | None = described("what became of its items; null where it is `received`")
    error: str | None = described("why nothing of it could be used; null where it could")
    links: PackageLinks = described("where to go on")


class PackageOut(Model):
    """A package and what became of it."""

    model_config = ConfigDict(json_schema_extra={"examples": [PACKAGE_EXAMPLE]})

    number: int = described("number of the package")
    source: str = described("the source that sent it")
    file: str = described("what the file was called")
    bytes: int = described("size as received, unpacked, in bytes")
    sha256: str = described("SHA-256 of the unpacked bytes, hexadecimal")
    mapping: str = described("version of the mapping that reads it")
    state: PackageState = described("how far it is")
    received_at: dt.datetime = described("time of durable receipt, UTC")
    finished_at: dt.datetime | None = described("when it was taken in, UTC; null while it waits")
    attempts: int = described("how often it was taken in, count")
    repeats: int = described("how often it came again, count")
    error: str | None = described("why nothing of it could be used; null where it could")
    not_measured: int = described("stops where nothing was measured, count")
    counts: CountsOut = described("what became of its items")
    links: PackageLinks = described("where to go on")


class PackageList(Model):
    """One page of packages, newest first."""

    items: list[PackageOut] = described("packages of this page")
    next: str | None = described("relative URL of the next page; null on the last one")


class MomentOut(Model):
    """One thing that happened to a package."""

    at: dt.datetime | None = described("when, UTC; null where it was not recorded")
    state: str = described("what happened")
    attempt: int = described("the attempt it belongs to, from 1")
    file: str | None = described("the name it came under, of a receipt")
    error: str | None = described("what went wrong; null where nothing did")
    counts: dict[str, int] | None = described("counts of the whole package then, when it was done")


class PackageLife(PackageOut):
    """A package with its whole life."""

    payload_kept: bool = described("whether its bytes are still here, so that it can be replayed")
    life: list[MomentOut] = described("everything that happened to it, in order")


class RejectOut(Model):
    """A refused item."""

    package: int = described("package it arrived in")
    row: int = described("item number in the package")
    source: str = described("the source that sent it")
    file: str = described("name of the file")
    line: int = described("line or record number in the file, from 1")
    column_name: str | None = described("column or path the value stood in")
    reason: str = described("reason code")
    detail: str = described("what was wrong and what is allowed")
    raw: str | None = described("the text as received, at most 200 characters")
    device: str | None = described("device as sent, where that could be read")
    channel: str | None = described("channel or stop as sent, where that could be read")
    ts_text: str | None = described("time as sent, where that could be read")
    received_at: dt.datetime = described("time of durable receipt, UTC")


class RejectGroup(Model):
    """Open refused items of one source and reason."""

    source: str = described("the source that sent them")
    reason: str = described("reason code")
    items: int = described("refused items, count; complete")
    packages: int = described("packages they came in, count")
    meaning: str = described("what the reason means")
    remedy: str = described("what helps")


class RejectList(Model):
    """Refused items that are still open: all counted, the first shown."""

    groups: list[RejectGroup] = described("counts by source and reason")
    items: list[RejectOut] = described("the first items, by package and row")
    next: None = described("always null: the first items only are kept and shown")


class PackageRejects(Model):
    """Refused items of one package that are still open."""

    items: list[RejectOut] = described("the first items, by row")
    next: None = described("always null: the first items only are kept and shown")


class SourceOut(Model):
    """A source and when it was last heard of."""

    model_config = ConfigDict(json_schema_extra={"examples": [SOURCE_EXAMPLE]})

    source: str = described("the source, as its mapping names it")
    last_receipt: dt.datetime = described("when its newest new package came, UTC")
    interval_minutes: float | None = described("interval its mapping declares, in minutes")
    silent: bool = described("whether it has missed three of its intervals: it is not fine then")


class SourceList(Model):
    """Every source, by name."""

    items: list[SourceOut] = described("sources")
    next: None = described("always null: all are given at once")


class Replay(Model):
    """Packages to put through once more: those named, or those with refused items."""

    model_config = ConfigDict(json_schema_extra={"examples": [REPLAY_EXAMPLE]})

    packages: list[int] = Field(
        default_factory=list, max_length=1000, description="package numbers; empty = by the filters"
    )
    source: str | None = Field(None, description="only packages of this source")
    reason: str | None = Field(None, description="only packages with items refused for this reason")


class Replayed(Model):
    """Packages that are in line again; they go through the same pipeline."""

    packages: list[int] = described("package numbers; empty where nothing was to be replayed")


class AdapterOut(Model):
    """An adapter: what reads one source format."""

    name: str = described("name a mapping asks for it by")
    suffixes: list[str] = described("file name endings this format usually has")
    description: str = described("what it reads, in one line")


class AdapterList(Model):
    """Adapters that are installed, and those that failed to load."""

    items: list[AdapterOut] = described("installed adapters, by name")
    failed: dict[str, str] = described("adapters that failed to load, and why")
    next: None = described("always null: all are given at once")


class MappingOut(Model):
    """The mapping of a source in force."""

    source: str = described("the source")
    version: str = described("version of the mapping: a digest of its text")
    adapter: str = described("the adapter it is read by")
    items: str = described("what it takes in: `readings` or `maintenance-events`")
    method: str | None = described("how the source measures; null for maintenance events")
    given: bool = described("given to the server; else the one its newest package came with")
    links: dict[str, str] = described("relative URL of its text")


class MappingList(Model):
    """The mapping of every source."""

    items: list[MappingOut] = described("mappings, by source")
    next: None = described("always null: all are given at once")


class TrialIn(Model):
    """A mapping to try on a file; nothing is stored."""

    model_config = ConfigDict(json_schema_extra={"examples": [TRIAL_EXAMPLE]})

    mapping: str = Field(max_length=1_000_000, description="text of the mapping (TOML)")
    file: str = Field(
        "tried", pattern=r"^[^/\\\x00-\x1f]{1,200}$", description="what the file is called"
    )
    content: str | None = Field(None, description="the file, where it is text")
    content_base64: str | None = Field(None, description="the file in base64, where it is not")


class TrialOut(Model):
    """What a mapping makes of a file."""

    counts: CountsOut = described("what would become of its items")
    not_measured: int = described("stops where nothing was measured, count")
    readings: list[dict[str, Any]] = described("the first readings it would give")
    rejects: list[dict[str, Any]] = described("the first items refused, some of each reason")


class IngestQuery(BaseModel):
    """What is handed over."""

    model_config = ConfigDict(extra="forbid")

    source: Annotated[str, Field(min_length=1, max_length=200, description="the source it is of")]
    file: Annotated[
        str, Field(pattern=r"^[^/\\\x00-\x1f]{1,200}$", description="what the file is called")
    ] = "posted"
    wait: Annotated[
        float, Field(ge=0, le=30, description="seconds to wait for it to be taken in")
    ] = 0.0


class PackageQuery(BaseModel):
    """Which packages. A filter given several times lets each of its values pass."""

    model_config = ConfigDict(extra="forbid")

    limit: Annotated[int, Field(ge=1, le=1000, description="most packages on a page")] = 100
    before: Annotated[
        int | None, Field(ge=0, le=2**53, description="packages before this number")
    ] = None
    source: Annotated[list[str] | None, Field(description="source that sent them")] = None
    state: Annotated[PackageState | None, Field(description="how far they are")] = None


class RejectQuery(BaseModel):
    """Which refused items."""

    model_config = ConfigDict(extra="forbid")

    limit: Annotated[int, Field(ge=1, le=1000, description="most items shown")] = 100
    source: Annotated[str | None, Field(description="source that sent them")] = None
    reason: Annotated[str | None, Field(description="reason code")] = None
