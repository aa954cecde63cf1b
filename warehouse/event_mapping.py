"""The mapping of a source of maintenance events, and which kind of mapping a file is.

`items = "maintenance-events"` says that the records are events; without it they are readings.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from schemas.tables.work import (
    FAILURE,
    FAILURE_MODE,
    FAILURE_SEVERITY,
    MAINTENANCE_STATUS,
    MAINTENANCE_TYPE,
)
from warehouse.errors import MappingError
from warehouse.faultfinding import every_fault
from warehouse.mapping import (
    AnyMapping,
    Speaker,
    Time,
    Values,
    mapping_text,
    parse_mapping,
)
from warehouse.mapping_parts import Attribute, Taken

EVENTS = "maintenance-events"
EVENT_CODES: Mapping[str, Mapping[str, str]] = {
    "status": MAINTENANCE_STATUS,
    "type": MAINTENANCE_TYPE,
    "severity": FAILURE_SEVERITY,
    "failure": FAILURE,
    "as_found": FAILURE_MODE,
}
"""Attributes with a closed list of codes."""

_STRICT = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class EventSource(Speaker):
    """Who reports maintenance."""

    description: str = ""


class EventTime(BaseModel):
    """How the times of events are written; where each stands is said under `[event]`."""

    model_config = _STRICT

    format: str | list[str] = "iso8601"
    zone: str | None = None

    @model_validator(mode="after")
    def _readable(self) -> EventTime:
        self.as_time()
        return self

    def as_time(self) -> Time:
        """The same as for readings, of a field that is not named."""
        return Time.model_validate({"from": "-", "format": self.format, "zone": self.zone})


class EventAttributes(BaseModel):
    """What is said of an event. `object` is the external id of an asset or of a member."""

    model_config = _STRICT

    event: Taken
    activity: Attribute
    started_at: Taken
    version_at: Taken | None = None
    ended_at: Taken | None = None
    status: Attribute | None = None
    site: Attribute | None = None
    asset: Attribute | None = None
    member: Attribute | None = None
    object: Attribute | None = None
    type: Attribute | None = None
    severity: Attribute | None = None
    failure: Attribute | None = None
    as_found: Attribute | None = None
    down_hours: Taken | None = None
    cost: Taken | None = None
    order_id: Taken | None = None
    note: Taken | None = None

    def stated(self) -> dict[str, str | Taken]:
        """Attributes that the mapping gives."""
        every = {name: getattr(self, name) for name in EventAttributes.model_fields}
        return {name: value for name, value in every.items() if value is not None}


class EventMapping(AnyMapping):
    """A whole mapping of maintenance events."""

    items: Literal["maintenance-events"]
    source: EventSource
    time: EventTime = Field(default_factory=EventTime)
    values: Values = Field(default_factory=Values)
    event: EventAttributes

    @cached_property
    def fields(self) -> tuple[str, ...]:
        """Every column or path the mapping takes from the file, each once, in order."""
        taken = (v.from_ for v in self.event.stated().values() if isinstance(v, Taken))
        return tuple(dict.fromkeys(taken))

    @property
    def identity_fields(self) -> frozenset[str]:
        """Fields of the event's identifier and of the machine."""
        names = ("event", "object", "asset", "order_id")
        stated = self.event.stated()
        return frozenset(v.from_ for n in names if isinstance(v := stated.get(n), Taken))

    @model_validator(mode="after")
    def _complete(self) -> EventMapping:
        if faults := list(dict.fromkeys(_faults(self.event.stated()))):
            raise ValueError("\n".join(faults))
        return self


def _faults(stated: Mapping[str, str | Taken]) -> Iterator[str]:
    by_tag = "site" in stated and "asset" in stated
    if "object" not in stated and not by_tag:
        yield "event: the machine is missing; state object, or site and asset"
    if "object" in stated and ("asset" in stated or "member" in stated):
        yield "event: object names the machine already; asset and member cannot stand beside it"
    for name, codes in EVENT_CODES.items():
        value = stated.get(name)
        words = value.map.values() if isinstance(value, Taken) else [value]
        for word in words:
            if word is not None and word not in codes:
                yield f"event: {name} {word!r} is not one of {', '.join(codes)}"


_ANY = {"from": "?"}
_SOUND: dict[str, Any] = {
    "format_version": 1,
    "items": EVENTS,
    "name": "x",
    "source": {"id": "x", "adapter": "x"},
    "time": {"format": "iso8601", "zone": "UTC"},
    "event": dict.fromkeys(("event", "activity", "started_at", "object"), _ANY),
}
"""Parts of a mapping that are sound: they stand in for faulty ones while others are looked for."""


def parse_any_mapping(text: str, origin: str) -> AnyMapping:
    """Mapping of either kind from TOML text. Raises MappingError with every fault."""
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return parse_mapping(text, origin)  # tells what is wrong
    if "items" not in content:
        return parse_mapping(text, origin)
    try:
        return EventMapping.model_validate(content)
    except ValidationError as error:
        faults = every_fault(EventMapping, content, _SOUND)
        raise MappingError([f"{origin}: {fault}" for fault in faults]) from error


def load_any_mapping(path: Path) -> AnyMapping:
    """Mapping of either kind from a file.

    Raises SourceMissingError where it is not there, MappingError with every fault in it.
    """
    return parse_any_mapping(mapping_text(path), str(path))
