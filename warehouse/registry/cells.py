"""One cell of a registry file, checked against its column."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping
from typing import Any
from zoneinfo import available_timezones

from schemas import codes
from schemas.columns import Column, ColumnType
from schemas.display import parse_profile
from schemas.units import UNITS, to_canonical

SLUG = re.compile(r"^[a-z0-9]+(-[a-z0-9]+)*$")
TRUTH: Mapping[str, bool] = {"true": True, "false": False}
"""What a yes-or-no column may hold, in capitals too: a spreadsheet writes TRUE. Nothing else."""
_SLUGS = frozenset({"site", "position"})


class _Faulty:
    def __repr__(self) -> str:
        return "?"


FAULTY = _Faulty()
"""Stands in a row for a cell that has a fault: what it should hold nobody knows."""


def read_cell(column: Column, text: str) -> Any:
    """The value of a cell. Raises ValueError that says what is wrong and what is allowed."""
    if not text:
        if column.required:
            raise ValueError("is blank; a value is needed")
        return None
    if column.codes:
        allowed: Mapping[str, str] = getattr(codes, column.codes)
        if text not in allowed:
            raise ValueError(f"{text!r} is not one of {', '.join(allowed)}")
    if column.name in _SLUGS and not SLUG.match(text):
        raise ValueError(f"{text!r} is no slug: lower-case letters and digits, joined by -")
    if column.name == "time_zone" and text not in available_timezones():
        raise ValueError(f"{text!r} is no IANA time zone, such as Europe/Vienna")
    if column.name == "display_profile":
        parse_profile(text)
    if column.unit == "kW":
        return _power(text)
    return _READERS[column.type](text)


_POWER = re.compile(r"(?P<number>\S*[^\sA-Za-z\]])\s*(?P<unit>kW|hp|\[HP\])?", re.IGNORECASE)
_POWER_UNITS: Mapping[str, str] = {"kw": "kW", "hp": "[HP]", "[hp]": "[HP]"}


def _power(text: str) -> float:
    """A power in kW: a number alone is in kW, mechanical horsepower (550 ft lbf/s) must say so.

    Metric horsepower is another unit, and refused.
    """
    found = _POWER.fullmatch(text)
    if not found:
        raise ValueError(
            f"{text!r} is no power; write kilowatts, such as 186.4 or 186.4 kW, or mechanical "
            "horsepower, such as 250 hp"
        )
    value = _number(found["number"])
    if value <= 0:
        raise ValueError(f"{text!r} is no power: it must be above 0; leave unknown ones blank")
    return to_canonical(value, UNITS["power", _POWER_UNITS[(found["unit"] or "kW").lower()]])


def _number(text: str) -> float:
    try:
        value = float(text)
    except ValueError as error:
        raise ValueError(f"{text!r} is no number") from error
    if value != value or value in (float("inf"), float("-inf")):
        raise ValueError(f"{text!r} is no finite number")
    return value


def _whole(text: str) -> int:
    try:
        return int(text)
    except ValueError as error:
        raise ValueError(f"{text!r} is no whole number") from error


def _truth(text: str) -> bool:
    try:
        return TRUTH[text.lower()]
    except KeyError as error:
        raise ValueError(f"{text!r} is not one of {', '.join(TRUTH)}") from error


def _time(text: str) -> dt.datetime:
    try:
        value = dt.datetime.fromisoformat(text)
    except ValueError as error:
        raise ValueError(f"{text!r} is no ISO 8601 time, such as 2025-06-01T00:00:00Z") from error
    if value.tzinfo is None:
        raise ValueError(f"{text!r} has no offset; write 2025-06-01T00:00:00Z")
    return value.astimezone(dt.UTC)


_READERS: dict[ColumnType, Callable[[str], Any]] = {
    "string": str,
    "int32": _whole,
    "int64": _whole,
    "float64": _number,
    "bool": _truth,
    "timestamp": _time,
    "date": str,
}
