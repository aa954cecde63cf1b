"""Whether a stop of a route says what is read there in a way that fits together."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Any

from schemas.units import UNITS, VIBRATION_QUANTITIES, unit_kind
from warehouse.registry.cells import FAULTY

_BAND = re.compile(r"^\d+(\.\d+)?-\d+(\.\d+)?Hz$")
_READ = ("quantity", "detector", "unit")


def unreadable_stops(stops: Iterable[dict[str, Any]]) -> Iterator[str]:
    """Faults of imported stops: what is read is said whole, in a unit that measures it, or not."""
    for row in stops:
        if not any(row[name] is FAULTY for name in (*_READ, "band", "temperature_unit")):
            yield from (f"{row['_line']}: {fault}" for fault in _faults(row))


def _faults(row: dict[str, Any]) -> Iterator[str]:
    said = [name for name in _READ if row[name] is not None]
    if said and len(said) < len(_READ):
        lacking = ", ".join(name for name in _READ if name not in said)
        yield f"{', '.join(said)} without {lacking}; state all of what is read, or none"
    elif said:
        kind = unit_kind(row["quantity"], row["detector"])
        if (kind, row["unit"]) not in UNITS:
            yield _unfit(row["unit"], f"{row['quantity']} {row['detector']}", kind)
        if row["quantity"] in VIBRATION_QUANTITIES and row["band"] is None:
            yield "band is needed for a vibration quantity, such as 10-1000Hz"
    if row["band"] is not None and not _BAND.match(row["band"]):
        yield f"band {row['band']!r} is not of the form LOW-HIGHHz, such as 10-1000Hz"
    warm = row["temperature_unit"]
    if warm is not None and ("temperature", warm) not in UNITS:
        yield _unfit(warm, "temperature", "temperature")


def _unfit(unit: str, what: str, kind: str) -> str:
    fitting = ", ".join(code for one, code in UNITS if one == kind)
    return f"unit {unit!r} does not measure {what}; fitting: {fitting}"
