"""Lays validated limit files out as Arrow tables, one flat row a fact."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pyarrow as pa

from warehouse.limits.model import Default, LimitSet, Uncovered

_STRING, _FLOAT, _BOOL, _INT = pa.string(), pa.float64(), pa.bool_(), pa.int32()

_SETS = pa.schema(
    [
        ("limit_set", _STRING),
        ("standard", _STRING),
        ("edition", _STRING),
        ("title", _STRING),
        ("note", _STRING),
        ("priority", _INT),
        ("worse_quantity_governs", _BOOL),
        ("assumed_support", _STRING),
        ("assumed_pump_category", _STRING),
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
        ("power_over_kw", _FLOAT),
        ("power_up_to_kw", _FLOAT),
        ("shaft_height_from_mm", _FLOAT),
        ("shaft_height_below_mm", _FLOAT),
        ("pump_category", _STRING),
        ("source", _STRING),
        ("confidence", _STRING),
    ]
)
_VALUE_KEY = [
    ("limit_set", _STRING),
    ("group", _STRING),
    ("quantity", _STRING),
    ("detector", _STRING),
    ("unit", _STRING),
    ("speed_up_to", _FLOAT),
    ("source", _STRING),
    ("confidence", _STRING),
    ("verified", _BOOL),
]
_ROWS = pa.schema(
    [
        *_VALUE_KEY,
        ("support", _STRING),
        ("band_low_hz", _FLOAT),
        ("band_high_hz", _FLOAT),
        ("a_b", _FLOAT),
        ("b_c", _FLOAT),
        ("c_d", _FLOAT),
        ("alarm", _FLOAT),
        ("trip", _FLOAT),
        ("clause", _STRING),
    ]
)
_ACCEPTANCE = pa.schema(
    [*_VALUE_KEY, ("place", _STRING), ("operating_region", _STRING), ("value", _FLOAT)]
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


def sets(limit_sets: Sequence[LimitSet]) -> pa.Table:
    """One row a set: scope bounds in kW and /min, low-speed rule, what is assumed."""
    return _table([_set_row(one) for one in limit_sets], _SETS)


def _set_row(one: LimitSet) -> dict[str, Any]:
    row = one.model_dump(exclude={"scope", "low_speed", "applies", "row", "acceptance"})
    row["limit_set"] = one.id
    row |= {f"scope_{key}": value for key, value in one.scope.model_dump().items()}
    low = one.low_speed.model_dump()
    row["low_speed"] = low.pop("speed")
    return row | {f"low_speed_{key}": value for key, value in low.items()}


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
    """One row a set, group, support, quantity and detector: boundaries in `unit`."""
    return _table(
        [
            row.model_dump()
            | {"limit_set": one.id, "group": group, "support": support}
            | {"verified": row.confidence == "V1"}
            for one in limit_sets
            for row in one.row
            for group in row.groups
            for support in row.supports
        ],
        _ROWS,
    )


def acceptance(limit_sets: Sequence[LimitSet]) -> pa.Table:
    """One row a set, group, place and operating region: one value in `unit`, as printed."""
    return _table(
        [
            value.model_dump()
            | {"limit_set": one.id, "group": group, "verified": value.confidence == "V1"}
            for one in limit_sets
            for value in one.acceptance
            for group in value.groups
        ],
        _ACCEPTANCE,
    )


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
