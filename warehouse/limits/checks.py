"""What the fields of a limit set must be together; every fault, also beside faults of fields."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from schemas.units import UNITS, unit_kind
from warehouse.limits.model import BOUNDARIES, Acceptance, Applies, Kind, LimitSet, Row, Valued

_MAY_LACK = frozenset({"shutdown"})
"""Some standards leave it to the machine's own history."""

_SETTINGS = frozenset({"alarm", "trip"})
"""Printed settings, which sets with zones may state beside their boundaries."""

_QUANTITIES = get_args(Valued.model_fields["quantity"].annotation)

_NEEDED = frozenset(name for names in BOUNDARIES.values() for name in names)


@dataclass(frozen=True, slots=True)
class _Entry:
    """One entry of a list as far as it is sound; `unsure` are the fields that are not."""

    place: str
    fields: dict[str, Any]
    unsure: frozenset[str]

    def __getitem__(self, name: str) -> Any:
        return self.fields.get(name)

    def sure_of(self, *names: str) -> bool:
        return not self.unsure.intersection(names)


def set_faults(content: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Place and fault for what does not fit together in the content of a set's file.

    Fields that are not valid in themselves are passed over: their faults are
    told where they are read.
    """
    rows = _entries(content, "row", Row)
    applies = _entries(content, "applies", Applies)
    kind: Kind | None = content.get("kind") if content.get("kind") in get_args(Kind) else None
    for one in (*rows, *_entries(content, "acceptance", Acceptance)):
        yield from ((one.place, fault) for fault in _value_faults(one))
    for one in applies:
        yield from ((one.place, fault) for fault in _span_faults(one.fields))
    if isinstance(scope := content.get("scope"), dict):
        yield from (("scope", fault) for fault in _span_faults(scope))
    for row in rows:
        faults = [*_row_faults(row), *(_boundary_faults(row, kind) if kind else ())]
        yield from ((row.place, fault) for fault in faults)
    whole = (*_use_faults(content), *_group_faults(rows, applies), *_twice(rows))
    yield from (("whole file", fault) for fault in whole)


def _entries(content: dict[str, Any], name: str, model: type[BaseModel]) -> list[_Entry]:
    listed = content.get(name)
    found = []
    for place, raw in enumerate(listed if isinstance(listed, list) else (), 1):
        stated = raw if isinstance(raw, dict) else {}
        unsure: frozenset[str] = frozenset()
        try:
            fields = model.model_validate(raw).model_dump()
        except ValidationError as error:
            unsure = frozenset(str(fault["loc"][0]) for fault in error.errors() if fault["loc"])
            defaults = {key: field.default for key, field in model.model_fields.items()}
            sound = {key: value for key, value in stated.items() if key not in unsure}
            fields = defaults | dict.fromkeys(unsure) | sound
        found.append(_Entry(f"{name} #{place}", fields, unsure))
    return found


def _value_faults(one: _Entry) -> Iterator[str]:
    quantity, detector, unit = one["quantity"], one["detector"], one["unit"]
    if one.sure_of("unit"):
        of_it = (quantity,) if one.sure_of("quantity") else _QUANTITIES
        kinds = {unit_kind(name, "rms") for name in of_it}  # no detector here changes the unit
        if not any((kind, unit) in UNITS for kind in kinds):
            what = f"unit of {quantity}" if one.sure_of("quantity") else "unit"
            allowed = ", ".join(code for of, code in UNITS if of in kinds)
            yield f"{what} must be one of {allowed}, found {unit!r}"
    if one.sure_of("quantity", "detector") and (quantity == "temperature") != (detector == "value"):
        yield "detector: temperature has the detector 'value', vibration 'rms' or 'peak-to-peak'"
    yield from _span_faults(one.fields)


_SPANS = (
    ("speed_over", "speed_up_to"),
    ("speed_from", "speed_up_to"),
    ("power_over_kw", "power_up_to_kw"),
    ("shaft_height_from_mm", "shaft_height_below_mm"),
    ("band_low_hz", "band_high_hz"),
)


def _span_faults(fields: Mapping[str, Any]) -> Iterator[str]:
    """Spans that nothing lies in."""
    for from_name, to_name in _SPANS:
        low, high = fields.get(from_name), fields.get(to_name)
        if isinstance(low, int | float) and isinstance(high, int | float) and low >= high:
            yield f"{from_name} {low} must be below {to_name} {high}"


def _boundary_faults(row: _Entry, kind: Kind) -> Iterator[str]:
    """What of a row does not fit a set of that kind."""
    wanted = BOUNDARIES[kind]
    given = {name for name in _NEEDED | _SETTINGS if row[name] is not None}
    allowed = {*wanted} | (_SETTINGS if kind.startswith("zones") else set())
    if missing := [name for name in wanted if name not in given | _MAY_LACK | row.unsure]:
        yield f"lacks {', '.join(missing)}: a set of kind {kind} needs {', '.join(wanted)}"
    if strange := sorted(given - allowed):
        yield f"has {', '.join(strange)}: a set of kind {kind} has {', '.join(wanted)}"
    if strange := sorted((row["printed_peak"] or {}).keys() - set(wanted)):
        yield f"printed_peak has {', '.join(strange)}; allowed: {', '.join(wanted)}"


def _row_faults(row: _Entry) -> Iterator[str]:
    """What is wrong in a row whatever the kind of its set."""
    for names in BOUNDARIES.values():
        values = [row[name] for name in names if row[name] is not None]
        if any(lower >= upper for lower, upper in pairwise(values)):
            yield f"boundaries must rise: {', '.join(map(str, values))}"
            break
    if row["disputed"] and not row["note"]:
        yield "disputed: a note must give both values"


def _use_faults(content: dict[str, Any]) -> Iterator[str]:
    used = bool(content.get("row")), bool(content.get("applies"))
    if content.get("in_service", True):
        if not all(used):
            yield "a set used in service needs [[applies]] and [[row]]"
    elif any(used) or not content.get("acceptance"):
        yield "a set for information only (in_service = false) has [[acceptance]] and nothing else"


def _group_faults(rows: Sequence[_Entry], applies: Sequence[_Entry]) -> Iterator[str]:
    """Groups that only one side names; nothing is said where the other side is not sure."""
    chosen = {one["group"] for one in applies if one["group"]}
    valued = {group for row in rows for group in row["groups"] or ()}
    if rows and all(row.sure_of("groups") for row in rows) and (missing := chosen - valued):
        yield f"no row gives values for {', '.join(sorted(missing))}"
    if applies and all(one.sure_of("group") for one in applies) and (unused := valued - chosen):
        yield f"no applies block leads to {', '.join(sorted(unused))}"


def _twice(rows: Iterable[_Entry]) -> Iterator[str]:
    """Rows that give values for the same thing at the same speed."""
    speeds: dict[tuple[str | None, ...], list[tuple[float, float]]] = {}
    for row in rows:
        for key in _keys(row):
            speeds.setdefault(key, []).append((row["speed_over"] or 0.0, row["speed_up_to"] or inf))
    for key, spans in speeds.items():
        if any(low < high for (_, high), (low, _) in pairwise(sorted(spans))):
            yield f"values stand twice for {', '.join(part for part in key if part)}"


def _keys(row: _Entry) -> Iterator[tuple[str | None, ...]]:
    names = ("quantity", "detector", "reference")
    speeds = ("speed_over", "speed_up_to")
    if not row.sure_of("groups", "supports", "parts", *names, *speeds):
        return
    for group in row["groups"]:
        for support in row["supports"]:
            for part in row["parts"] or (None,):
                yield group, support, part, *(row[name] for name in names)


def allowed_keys(model: type[BaseModel], location: tuple[int | str, ...]) -> list[str]:
    """Keys a table of the file may have, for the place of one that it may not."""
    inner: dict[str, type[BaseModel]] = {"row": Row, "applies": Applies, "acceptance": Acceptance}
    if model is LimitSet and len(location) > 1 and location[0] in inner:
        return list(inner[str(location[0])].model_fields)
    if model is LimitSet and len(location) > 1:
        field = LimitSet.model_fields[str(location[0])].annotation
        for option in (field, *get_args(field)):
            if isinstance(option, type) and issubclass(option, BaseModel):
                return list(option.model_fields)
    return list(model.model_fields)
