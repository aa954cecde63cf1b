"""Lays validated limit files out as Arrow tables, one flat row a fact."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import pyarrow as pa

from schemas.units import UNITS, to_canonical, unit_kind
from warehouse.limits.judging_model import Default, Levels, Uncovered
from warehouse.limits.model import VERIFIED, LimitSet, Row, Valued

_PLACES = ("lower", "middle", "upper")
_STRING, _FLOAT, _BOOL, _INT = pa.string(), pa.float64(), pa.bool_(), pa.int32()

_SETS = pa.schema(
    [
        ("limit_set", _STRING),
        ("standard", _STRING),
        ("edition", _STRING),
        ("title", _STRING),
        ("note", _STRING),
        ("status", _STRING),
        ("kind", _STRING),
        ("measures", _STRING),
        ("in_service", _BOOL),
        ("precedence", _INT),
        ("left_out", _BOOL),
        ("origin", _STRING),
        ("worse_quantity_governs", _BOOL),
        ("assumed_support", _STRING),
        ("assumed_pump_category", _STRING),
        ("assumed_pump_type", _STRING),
        ("assumed_fan_application", _STRING),
        ("assumed_operating_region", _STRING),
        ("scope_power_over_kw", _FLOAT),
        ("scope_power_up_to_kw", _FLOAT),
        ("scope_speed_from", _FLOAT),
        ("scope_speed_up_to", _FLOAT),
        ("scope_vanes_from", _INT),
        ("scope_source", _STRING),
        ("scope_confidence", _STRING),
        ("low_speed", _FLOAT),
        ("low_speed_inclusive", _BOOL),
        ("low_speed_band_low_hz", _FLOAT),
        ("low_speed_source", _STRING),
        ("low_speed_confidence", _STRING),
    ]
)
_GROUPS = pa.schema(
    [
        ("limit_set", _STRING),
        ("precedence", _INT),
        ("group", _STRING),
        ("equipment_class", _STRING),
        ("by_hand", _BOOL),
        ("power_over_kw", _FLOAT),
        ("power_up_to_kw", _FLOAT),
        ("shaft_height_from_mm", _FLOAT),
        ("shaft_height_below_mm", _FLOAT),
        ("pump_category", _STRING),
        ("pump_types", pa.list_(_STRING)),
        ("fan_application", _STRING),
        ("source", _STRING),
        ("confidence", _STRING),
    ]
)
_VALUE_KEY = [
    ("limit_set", _STRING),
    ("group", _STRING),
    ("quantity", _STRING),
    ("detector", _STRING),
    ("reference", _STRING),
    ("unit", _STRING),
    ("speed_over", _FLOAT),
    ("speed_up_to", _FLOAT),
    ("source", _STRING),
    ("confidence", _STRING),
    ("verified", _BOOL),
    ("note", _STRING),
]
_ROWS = pa.schema(
    [
        *_VALUE_KEY,
        ("support", _STRING),
        ("part", _STRING),
        ("band_low_hz", _FLOAT),
        ("band_high_hz", _FLOAT),
        ("lower", _FLOAT),
        ("middle", _FLOAT),
        ("upper", _FLOAT),
        ("lower_confidence", _STRING),
        ("alarm_setting", _FLOAT),
        ("trip_setting", _FLOAT),
        ("peak_lower", _FLOAT),
        ("peak_middle", _FLOAT),
        ("peak_upper", _FLOAT),
        ("disputed", _BOOL),
        ("clause", _STRING),
    ]
)
_ACCEPTANCE = pa.schema(
    [
        *_VALUE_KEY,
        ("place", _STRING),
        ("operating_region", _STRING),
        ("mounting", _STRING),
        ("value", _FLOAT),
    ]
)
_LEVELS = pa.schema(
    [
        ("basis", _STRING),
        ("kind", _STRING),
        ("step", _INT),
        ("grade", _STRING),
        ("level", _STRING),
    ]
)
_BOUNDARIES = pa.schema(
    [("kind", _STRING), ("lower", _STRING), ("middle", _STRING), ("upper", _STRING)]
)
_UNCOVERED = pa.schema([("equipment_class", _STRING), ("reason", _STRING)])
_DEFAULTS = pa.schema(
    [
        ("key", _STRING),
        ("value", _FLOAT),
        ("unit", _STRING),
        ("reason", _STRING),
        ("confidence", _STRING),
    ]
)


def sets(
    limit_sets: Mapping[str, Sequence[LimitSet]], order: Sequence[str], left_out: Collection[str]
) -> pa.Table:
    """One row a set: scope bounds in kW and /min, low-speed rule, what is assumed.

    `limit_sets` by their origin; `precedence` is 1 for the first of the `order` in force, null
    for information only; `left_out` are those that only the plant's own order keeps from force.
    """
    places = {name: place for place, name in enumerate(order, 1)}
    return _table(
        [
            _set_row(one)
            | {
                "precedence": places.get(one.id),
                "left_out": one.id in left_out,
                "origin": origin,
            }
            for origin, found in limit_sets.items()
            for one in found
        ],
        _SETS,
    )


def _set_row(one: LimitSet) -> dict[str, Any]:
    parts = ("scope", "low_speed", "assumed", "applies", "row", "acceptance")
    row = one.model_dump(exclude=set(parts))
    row["limit_set"] = one.id
    thermal = any(found.quantity == "temperature" for found in one.row)
    row["measures"] = "temperature" if thermal else "vibration"
    row |= {f"assumed_{key}": value for key, value in one.assumed.model_dump().items()}
    if one.scope:
        row |= {f"scope_{key}": value for key, value in one.scope.model_dump().items()}
    if one.low_speed:
        low = one.low_speed.model_dump()
        row["low_speed"] = low.pop("speed")
        row |= {f"low_speed_{key}": value for key, value in low.items()}
    return row


def groups(limit_sets: Sequence[LimitSet]) -> pa.Table:
    """One row a set, block and equipment class; the lowest `precedence` that fits counts."""
    return _table(
        [
            block.model_dump()
            | {"limit_set": one.id, "precedence": place, "equipment_class": equipment_class}
            for one in limit_sets
            for place, block in enumerate(one.applies)
            for equipment_class in block.equipment_classes
        ],
        _GROUPS,
    )


def rows(limit_sets: Sequence[LimitSet]) -> pa.Table:
    """One row a set, group, support, part, quantity and detector: boundaries in `unit`.

    `lower`, `middle`, `upper` are the boundaries of the set in order; table
    `limit_boundaries` says what its kind calls them. A null `part` means bearing housings.
    """
    return _table(
        [
            _row(one, row) | {"group": group, "support": support, "part": part}
            for one in limit_sets
            for row in one.row
            for group in row.groups
            for support in row.supports
            for part in row.parts_measured
        ],
        _ROWS,
    )


def _row(one: LimitSet, row: Row) -> dict[str, Any]:
    zones = one.kind.startswith("zones")
    values = dict(zip(_PLACES, row.boundaries(one.kind), strict=True))
    for name, printed in zip(_PLACES, ("start_up", "alarm", "shutdown"), strict=True):
        values[f"peak_{name}"] = row.printed_peak.get(printed)
    values |= {"alarm_setting": row.alarm if zones else None, "trip_setting": row.trip}
    known = {name: value for name, value in values.items() if value is not None}
    return (
        row.model_dump()
        | {"limit_set": one.id, "lower_confidence": row.a_b_confidence or row.confidence}
        | _canonical(row, known)
    )


def _canonical(one: Valued, values: Mapping[str, float]) -> dict[str, Any]:
    """Values in the canonical unit of their quantity; its code; whether they are verified."""
    unit = UNITS[unit_kind(one.quantity, one.detector), one.unit]
    is_difference = one.reference == "baseline"
    canonical = "K" if is_difference and unit.canonical == "Cel" else unit.canonical
    return {
        "unit": canonical,
        "verified": one.confidence in VERIFIED,
        # rounded as the views round what they compare: a value on the boundary is not above it
        **{name: round(to_canonical(v, unit, is_difference), 9) for name, v in values.items()},
    }


def acceptance(limit_sets: Sequence[LimitSet]) -> pa.Table:
    """One row a set, group, place and operating region: one value in `unit`, as printed."""
    return _table(
        [
            value.model_dump()
            | {"limit_set": one.id, "group": group}
            | _canonical(value, {"value": value.value})
            for one in limit_sets
            for value in one.acceptance
            for group in value.groups
        ],
        _ACCEPTANCE,
    )


def levels(content: Levels) -> pa.Table:
    """One row a basis, kind of set and step: its grade and level."""
    return _table([one.model_dump() for one in content.level], _LEVELS)


def boundaries(content: Levels) -> pa.Table:
    """One row a kind of set: what its boundaries are called."""
    return _table([one.model_dump() for one in content.boundaries], _BOUNDARIES)


def uncovered(content: Uncovered) -> pa.Table:
    """One row an equipment class: why it is not judged where no set fits."""
    return _table(
        [{"equipment_class": key, "reason": why} for key, why in content.reasons.items()],
        _UNCOVERED,
    )


def defaults(content: Mapping[str, Default]) -> pa.Table:
    """One row a judging default: key, value in `unit`, reason, confidence."""
    return _table([{"key": key} | one.model_dump() for key, one in content.items()], _DEFAULTS)


def _table(rows_: list[dict[str, Any]], schema: pa.Schema) -> pa.Table:
    return pa.Table.from_pylist(
        [{name: row.get(name) for name in schema.names} for row in rows_], schema
    )
