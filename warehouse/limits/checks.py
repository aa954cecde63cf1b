"""What the fields of a limit set must be together; every fault, also beside faults of fields."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise
from math import inf
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from schemas.units import UNITS, unit_kind
from warehouse.limits.model import BOUNDARIES, Acceptance, Applies, Kind, LimitSet, Row, Valued

_Model = TypeVar("_Model", bound=BaseModel)

_MAY_LACK = frozenset({"shutdown"})
"""Some standards leave it to the machine's own history."""

_SETTINGS = frozenset({"alarm", "trip"})
"""Printed settings, which sets with zones may state beside their boundaries."""


def set_faults(content: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Place and fault for what does not fit together in the content of a set's file.

    Parts that are not valid in themselves are passed over: their faults are
    told where they are read.
    """
    rows = _sound(content.get("row"), Row)
    applies = _sound(content.get("applies"), Applies)
    values = _sound(content.get("acceptance"), Acceptance)
    kind: Kind | None = content.get("kind") if content.get("kind") in get_args(Kind) else None
    for name, found in (("row", rows), ("acceptance", values)):
        for place, one in found.items():
            yield from ((f"{name} #{place + 1}", fault) for fault in _valued_faults(one))
    for place, row in rows.items() if kind else ():
        assert kind is not None
        yield from ((f"row #{place + 1}", fault) for fault in _boundary_faults(row, kind))
    if len(rows) == _count(content, "row") and len(applies) == _count(content, "applies"):
        whole = "whole file"
        yield from ((whole, fault) for fault in _group_faults(rows.values(), applies.values()))
        yield from ((whole, fault) for fault in _use_faults(content))
    yield from (("whole file", fault) for fault in _twice(rows.values()))


def _sound(found: object, model: type[_Model]) -> dict[int, _Model]:
    """The entries of a list that are valid in themselves, by their place."""
    sound = {}
    for place, one in enumerate(found if isinstance(found, list) else []):
        try:
            sound[place] = model.model_validate(one)
        except ValidationError:
            continue
    return sound


def _count(content: dict[str, Any], name: str) -> int:
    found = content.get(name, [])
    return len(found) if isinstance(found, list) else -1


def _valued_faults(one: Valued) -> Iterator[str]:
    kind = unit_kind(one.quantity, one.detector)
    if (kind, one.unit) not in UNITS:
        allowed = ", ".join(code for of, code in UNITS if of == kind)
        yield f"unit of {one.quantity} must be one of {allowed}, found {one.unit!r}"
    if (one.quantity == "temperature") != (one.detector == "value"):
        yield "detector: temperature has the detector 'value', vibration 'rms' or 'peak-to-peak'"
    if one.speed_over and one.speed_up_to and one.speed_over >= one.speed_up_to:
        yield f"speed_over {one.speed_over} must be below speed_up_to {one.speed_up_to}"


def _boundary_faults(row: Row, kind: Kind) -> Iterator[str]:
    """What of a row does not fit a set of that kind."""
    wanted = BOUNDARIES[kind]
    known = {name for names in BOUNDARIES.values() for name in names} | _SETTINGS
    given = {name for name in known if getattr(row, name) is not None}
    allowed = {*wanted} | (_SETTINGS if kind.startswith("zones") else set())
    if missing := [name for name in wanted if name not in given | _MAY_LACK]:
        yield f"lacks {', '.join(missing)}: a set of kind {kind} needs {', '.join(wanted)}"
    if strange := sorted(given - allowed):
        yield f"has {', '.join(strange)}: a set of kind {kind} has {', '.join(wanted)}"
    values = [value for value in row.boundaries(kind) if value is not None]
    if any(lower >= upper for lower, upper in pairwise(values)):
        yield f"boundaries must rise: {', '.join(map(str, values))}"
    if strange := sorted(row.printed_peak.keys() - set(wanted)):
        yield f"printed_peak has {', '.join(strange)}; allowed: {', '.join(wanted)}"
    if row.disputed and not row.note:
        yield "disputed: a note must give both values"


def _use_faults(content: dict[str, Any]) -> Iterator[str]:
    used = bool(content.get("row")), bool(content.get("applies"))
    if content.get("in_service", True):
        if not all(used):
            yield "a set used in service needs [[applies]] and [[row]]"
    elif any(used) or not content.get("acceptance"):
        yield "a set for information only (in_service = false) has [[acceptance]] and nothing else"


def _group_faults(rows: Iterable[Row], applies: Iterable[Applies]) -> Iterator[str]:
    chosen = {block.group for block in applies}
    valued = {group for row in rows for group in row.groups}
    if missing := sorted(chosen - valued):
        yield f"no row gives values for {', '.join(missing)}"
    if unused := sorted(valued - chosen):
        yield f"no applies block leads to {', '.join(unused)}"


def _twice(rows: Iterable[Row]) -> Iterator[str]:
    """Rows that give values for the same thing at the same speed."""
    speeds: dict[tuple[str | None, ...], list[tuple[float, float]]] = {}
    for row in rows:
        for key in _keys(row):
            speeds.setdefault(key, []).append((row.speed_over or 0.0, row.speed_up_to or inf))
    for key, spans in speeds.items():
        if any(low < high for (_, high), (low, _) in pairwise(sorted(spans))):
            yield f"values stand twice for {', '.join(part for part in key if part)}"


def _keys(row: Row) -> Iterator[tuple[str | None, ...]]:
    for group in row.groups:
        for support in row.supports:
            for part in row.parts_measured:
                yield group, support, part, row.quantity, row.detector, row.reference


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
