"""The mapping of a source: one TOML file, checked whole, every fault named at once."""

from __future__ import annotations

import codecs
import hashlib
import re
import tomllib
from collections.abc import Iterator
from functools import cache, cached_property
from pathlib import Path
from typing import Any, Literal
from zoneinfo import available_timezones

import duckdb
from pydantic import Field, ValidationError, field_validator, model_validator

from schemas.codes import AXIS, DETECTOR, QUANTITY, TS_PRECISION, TS_SOURCE
from schemas.units import UNIT_CODES, UNITS, VIBRATION_QUANTITIES, unit_kind
from warehouse.errors import MappingError, SourceMissingError
from warehouse.faultfinding import every_fault
from warehouse.mapping_parts import Attribute, Part, StopAttributes, Taken, stop_faults
from warehouse.sql import load_sql

BAND_PATTERN = r"^\d+(\.\d+)?-\d+(\.\d+)?Hz$"
_SLUG = re.compile(r"^[a-z0-9]+(-[a-z0-9]+)*$")
_IDENTITY = ("device", "channel", "route", "asset", "position")
_CODE_LISTS = {"quantity": QUANTITY, "detector": DETECTOR, "axis": AXIS, "unit": UNIT_CODES}


@cache
def _time_zones() -> frozenset[str]:
    """Names of all time zones that mean the same on every machine; looked for once, on disk."""
    return frozenset(available_timezones()) - {"localtime", "posixrules", "Factory"}


class Attributes(Part):
    """What may be said of a reading, for a whole record or one of its values."""

    device: Attribute | None = None
    channel: Attribute | None = None
    quantity: Attribute | None = None
    detector: Attribute | None = None
    unit: Attribute | None = None
    band: Attribute | None = None
    feature: Attribute | None = None
    sequence: Attribute | None = None
    note: Attribute | None = None
    not_measured: Attribute | None = None
    route: Attribute | None = None
    site: Attribute | None = None
    asset: Attribute | None = None
    position: Attribute | None = None
    axis: Attribute | None = None


class Measure(Attributes):
    """One value of a record: the field it stands in, and its own attributes."""

    from_: str = Field(alias="from", min_length=1)


class Speaker(Part):
    """Who speaks, through which adapter."""

    id: str = Field(min_length=1)
    adapter: str = Field(min_length=1)


class Source(Speaker):
    """Who sends readings, and by which method of measuring."""

    method: Literal["wireless", "wired", "route", "derived"]
    description: str = ""
    interval_minutes: float | None = Field(default=None, gt=0)


class Time(Part):
    """Where the time stands, its format and zone, and what its clock is worth (rule R4)."""

    from_: list[str] = Field(alias="from", min_length=1)
    format: list[str] = Field(default_factory=lambda: ["iso8601"], min_length=1)
    zone: str | None = None
    ambiguous: Literal["refuse", "earlier", "later", "file-order"] = "refuse"
    clock: str = "device"
    precision: str = "second"
    issued_at: str | None = None

    @field_validator("from_", "format", mode="before")
    @classmethod
    def _one_is_a_list(cls, value: Any) -> Any:
        return [value] if isinstance(value, str) else value

    @field_validator("format")
    @classmethod
    def _known_directives(cls, value: list[str]) -> list[str]:
        for pattern in value:
            if cls.kind_of(pattern) in ("offset", "local"):
                _check_pattern(pattern)
        return value

    @field_validator("zone")
    @classmethod
    def _known_zone(cls, value: str | None) -> str | None:
        if value is not None and value not in _time_zones():
            raise ValueError(f"{value!r} is no IANA time zone, such as Europe/Vienna or UTC")
        return value

    @field_validator("clock")
    @classmethod
    def _known_clock(cls, value: str) -> str:
        return _listed(value, TS_SOURCE)

    @field_validator("precision")
    @classmethod
    def _known_precision(cls, value: str) -> str:
        return _listed(value, TS_PRECISION)

    @model_validator(mode="after")
    def _zone_where_needed(self) -> Time:
        kinds = {self.kind_of(pattern) for pattern in self.format}
        if len(kinds) > 1:
            raise ValueError("formats with and without an offset cannot stand in one list")
        if kinds == {"local"} and self.zone is None:
            raise ValueError("zone is needed: the format carries no offset")
        if self.clock == "date-only" and self.zone is None:
            raise ValueError("zone is needed: noon of a local day stands in for the time")
        return self

    @staticmethod
    def kind_of(pattern: str) -> str:
        """`iso8601`, `epoch-...`, or for a strptime pattern `offset` or `local`."""
        if pattern in ("iso8601", "epoch-seconds", "epoch-milliseconds"):
            return pattern
        return "offset" if "%z" in pattern else "local"


def _check_pattern(pattern: str) -> None:
    """Refuse what the engine cannot read times by: it would say so only with the first file."""
    if "%" not in pattern:
        raise ValueError(
            f"{pattern!r} is neither iso8601, epoch-seconds, epoch-milliseconds nor a pattern of "
            "% directives, such as %d.%m.%Y %H:%M"
        )
    try:
        duckdb.execute(load_sql("warehouse", "time_pattern"), {"pattern": pattern})
    except duckdb.Error as error:
        raise ValueError(f"{pattern!r} is no pattern of % directives: {error}") from error


class Values(Part):
    """How a value is written: decimal and thousands marks, and marks that are no numbers."""

    decimal: Literal[".", ","] = "."
    thousands: Literal[".", ",", " ", "'"] | None = None
    null: list[str] = Field(default_factory=lambda: [""])
    over_range: list[str] = Field(default_factory=list)

    @model_validator(mode="after")
    def _one_meaning(self) -> Values:
        if both := sorted(set(self.null) & set(self.over_range)):
            raise ValueError(f"{', '.join(map(repr, both))} cannot be both null and over_range")
        if self.thousands == self.decimal:
            raise ValueError(f"{self.decimal!r} cannot be both decimal and thousands")
        return self


class File(Part):
    """How the bytes become records; each adapter says which keys it reads."""

    delimiter: str = Field(default=",", min_length=1, max_length=1)
    encoding: str = "utf-8"
    header_line: int = Field(default=1, ge=1)
    quote: str = Field(default='"', min_length=1, max_length=1)
    sheet: str | None = None
    records: str = Field(default="$", pattern=r"^\$(\..+)?$")
    lines: bool = False
    split: str = Field(default=":", min_length=1, max_length=1)

    @model_validator(mode="after")
    def _marks_differ(self) -> File:
        if self.delimiter == self.quote:
            raise ValueError(f"{self.quote!r} cannot be both delimiter and quote")
        return self

    @field_validator("encoding")
    @classmethod
    def _known_encoding(cls, value: str) -> str:
        try:
            "\n".encode(value)  # Python also knows encodings of no text
            return codecs.lookup(value).name
        except LookupError as error:
            raise ValueError(f"{value!r} is no encoding that Python knows") from error


class AnyMapping(Part):
    """What every kind of mapping says. `version` names it and the exact text that is in force."""

    format_version: Literal[1]
    name: str
    source: Speaker
    file: File = Field(default_factory=File)

    @field_validator("name")
    @classmethod
    def _slug(cls, value: str) -> str:
        if not _SLUG.match(value):
            raise ValueError(f"{value!r} is no slug: lower-case letters and digits, joined by -")
        return value

    @cached_property
    def version(self) -> str:
        """Name and a digest of the content, such as `boiler-house-logger@3f2a9c1b`."""
        silent = getattr(self.source, "interval_minutes", None) is None
        unsaid: dict[str, Any] = {"source": {"interval_minutes"}} if silent else {}
        stop = getattr(self, "stop", None)
        if stop is None:
            unsaid["stop"] = True
        elif stop.route is None:
            unsaid["stop"] = {"route"}
        if getattr(getattr(self, "values", None), "thousands", None) is None:
            unsaid["values"] = {"thousands"}  # versions of before the key stay what they were
        content = self.model_dump_json(by_alias=True, exclude=unsaid)
        return f"{self.name}@{hashlib.sha256(content.encode()).hexdigest()[:8]}"

    @property
    def fields(self) -> tuple[str, ...]:
        """Every column or path the mapping takes from the file, each once, in order."""
        raise NotImplementedError

    @property
    def identity_fields(self) -> frozenset[str]:
        """Those that identify a thing: a date there is a code that a spreadsheet has spoilt."""
        raise NotImplementedError


class Mapping(AnyMapping):
    """A whole mapping of readings."""

    source: Source
    time: Time
    values: Values = Field(default_factory=Values)
    record: Attributes = Field(default_factory=Attributes)
    measure: list[Measure] = Field(min_length=1)
    stop: StopAttributes | None = None

    @cached_property
    def fields(self) -> tuple[str, ...]:
        """Every column or path the mapping takes from the file, each once, in order."""
        names = [*self.time.from_, *(m.from_ for m in self.measure)]
        if self.time.issued_at:
            names.append(self.time.issued_at)
        for index in range(len(self.measure)):
            for attribute in self.attributes(index).values():
                if isinstance(attribute, Taken):
                    names.append(attribute.from_)
        names += self.stop.fields if self.stop else ()
        return tuple(dict.fromkeys(names))

    @property
    def identity_fields(self) -> frozenset[str]:
        """Fields of device, channel and the like."""
        return frozenset(
            attribute.from_
            for index in range(len(self.measure))
            for name, attribute in self.attributes(index).items()
            if name in _IDENTITY and isinstance(attribute, Taken)
        )

    def attributes(self, index: int) -> dict[str, str | Taken]:
        """Attributes of one measure; what `[record]` says holds unless the measure says more."""
        own = self.measure[index]
        names = Attributes.model_fields
        merged = {name: getattr(own, name) or getattr(self.record, name) for name in names}
        return {name: value for name, value in merged.items() if value is not None}

    @model_validator(mode="after")
    def _complete(self) -> Mapping:
        faults = [fault for index in range(len(self.measure)) for fault in self._faults(index)]
        faults += self._record_faults()
        if self.stop:
            faults += stop_faults(self.stop, self.source.method, self.attributes(0))
        if faults:
            raise ValueError("\n".join(dict.fromkeys(faults)))
        return self

    def _record_faults(self) -> Iterator[str]:
        """What belongs to a whole record cannot be constant, nor said by one of its values."""
        for name in ("sequence", "note", "not_measured"):
            if isinstance(getattr(self.record, name), str):
                yield f"record: {name} must be taken from a field, {name} = {{ from = ... }}"
            for index, measure in enumerate(self.measure):
                if getattr(measure, name) is not None:
                    yield f"measure {index + 1}: {name} belongs to the whole record: [record]"

    def _faults(self, index: int) -> Iterator[str]:
        attributes = self.attributes(index)
        where = f"measure {index + 1} (from {self.measure[index].from_!r})"
        for name in ("device", "channel", "quantity", "detector", "unit"):
            if name not in attributes:
                yield f"{where}: {name} is missing; state it here or in [record]"
        constants = {k: v for k, v in attributes.items() if isinstance(v, str)}
        for name, codes in _CODE_LISTS.items():
            if name in constants and constants[name] not in codes:
                yield f"{where}: {name} {constants[name]!r} is not one of {_some(codes)}"
        yield from (f"{where}: {fault}" for fault in _band_faults(constants, attributes))
        yield from (f"{where}: {fault}" for fault in _unit_faults(constants))


def _band_faults(constants: dict[str, str], attributes: dict[str, str | Taken]) -> Iterator[str]:
    if constants.get("quantity") in VIBRATION_QUANTITIES and "band" not in attributes:
        yield "band is missing; a vibration quantity needs one, such as 10-1000Hz"
    band = constants.get("band")
    if band is not None and not (re.match(BAND_PATTERN, band) and _rises(band)):
        yield f"band {band!r} is not of the form LOW-HIGHHz, such as 10-1000Hz"


def _rises(band: str) -> bool:
    low, high = (float(edge) for edge in band.removesuffix("Hz").split("-"))
    return low < high


def _unit_faults(constants: dict[str, str]) -> Iterator[str]:
    quantity, detector, unit = (constants.get(n) for n in ("quantity", "detector", "unit"))
    if quantity not in QUANTITY or detector not in DETECTOR or unit not in UNIT_CODES:
        return
    kind = unit_kind(quantity or "", detector or "")
    if (kind, unit) not in UNITS:
        fitting = [code for k, code in UNITS if k == kind]
        yield f"unit {unit!r} does not measure {quantity} {detector}; fitting: {_some(fitting)}"


def _listed(value: str, codes: Any) -> str:
    if value not in codes:
        raise ValueError(f"{value!r} is not one of {_some(codes)}")
    return value


def _some(codes: Any) -> str:
    return ", ".join(sorted(codes))


_ANY = {"from": "?"}
_SOUND = {
    "format_version": 1,
    "name": "x",
    "source": {"id": "x", "adapter": "x", "method": "wired"},
    "time": {"from": "?", "format": "iso8601", "zone": "UTC"},
    "record": dict.fromkeys(Attributes.model_fields, _ANY),
    "measure": [
        {"from": "?"}
        | dict.fromkeys(("device", "channel", "quantity", "detector", "unit", "band"), _ANY)
    ],
}
"""Parts of a mapping that are sound: they stand in for faulty ones while others are looked for."""


def parse_mapping(text: str, origin: str) -> Mapping:
    """Mapping from TOML text. Raises MappingError with every fault, each naming `origin`."""
    try:
        content = tomllib.loads(text)
        return Mapping.model_validate(content)
    except tomllib.TOMLDecodeError as error:
        raise MappingError([f"{origin}: not valid TOML: {error}"]) from error
    except ValidationError as error:
        faults = every_fault(Mapping, content, _SOUND)
        raise MappingError([f"{origin}: {fault}" for fault in faults]) from error


def named_adapter(path: Path) -> str | None:
    """The adapter that a mapping names, whatever else is wrong; None where there is none."""
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    source = content.get("source")
    named = source.get("adapter") if isinstance(source, dict) else None
    return named if isinstance(named, str) else None


def load_mapping(path: Path) -> Mapping:
    """Mapping from a file.

    Raises SourceMissingError where it is not there, MappingError with every fault in it.
    """
    return parse_mapping(mapping_text(path), str(path))


def mapping_text(path: Path) -> str:
    """Text of a mapping file; errors as of `load_mapping`."""
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise SourceMissingError(
            str(path), error.strerror or "cannot be read", "a mapping file is needed"
        ) from error
    except UnicodeDecodeError as error:
        raise MappingError([f"{path}: not UTF-8 text: {error.reason}"]) from error
