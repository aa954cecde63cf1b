"""The mapping as small tables and column expressions for the SQL of this package."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pyarrow as pa

from schemas.codes import DETECTOR, DIMENSIONLESS_DETECTORS, QUANTITY
from schemas.units import PLAUSIBLE_UP_TO, UNITS, VIBRATION_QUANTITIES, unit_kind
from warehouse.mapping import Attributes, Mapping, Time, Values
from warehouse.mapping_parts import Taken

_PER_ITEM = ("sequence", "note", "not_measured")
KEY_ATTRIBUTES = tuple(name for name in Attributes.model_fields if name not in _PER_ITEM)
"""Attributes that decide what an item is and where it belongs."""

_ISO_TIME = r"\d{4}-\d{2}-\d{2}([T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?)?"
_ISO_OFFSET = r"[zZ]|[+-]([01]\d|2[0-3])(:?[0-5]\d)?"


@dataclass(frozen=True, slots=True)
class Plan:
    """Fragments for the SQL; all are made of field names f0, f1, ..., never of file content."""

    words: list[str]
    """Trimmed text of each field that a key attribute is taken from."""
    values: list[str]
    """Field of each measure's value, in order."""
    time_text: str
    local: str
    instant: str
    issued_at: str
    sequence: str
    note: str
    not_measured: str


def make_plan(mapping: Mapping) -> Plan:
    """Fragments for one mapping."""
    column = {field: f"f{index}" for index, field in enumerate(mapping.fields)}
    text = "concat_ws(' ', " + ", ".join(f"trim({column[f]})" for f in mapping.time.from_) + ")"
    local, instant = time_expressions(mapping.time)
    local = _noon(mapping.time, local)
    issued = mapping.time.issued_at
    return Plan(
        words=[f"coalesce(trim({column[field]}), '')" for field in _word_fields(mapping)],
        values=[column[measure.from_] for measure in mapping.measure],
        time_text=text,
        local=local,
        instant=instant,
        issued_at=_issued_at(mapping.time, column[issued]) if issued else "NULL::TIMESTAMP",
        sequence=_item_text("sequence", mapping, column, "try_cast({} AS BIGINT)", "BIGINT"),
        note=_item_text("note", mapping, column, "nullif(trim({}), '')", "VARCHAR"),
        not_measured=_item_text("not_measured", mapping, column, "nullif(trim({}), '')", "VARCHAR"),
    )


def _word_fields(mapping: Mapping) -> list[str]:
    found = [
        attribute.from_
        for index in range(len(mapping.measure))
        for name, attribute in mapping.attributes(index).items()
        if name in KEY_ATTRIBUTES and isinstance(attribute, Taken)
    ]
    return list(dict.fromkeys(found))


def _item_text(
    name: str, mapping: Mapping, column: dict[str, str], pattern: str, type_name: str
) -> str:
    """Expression for an attribute that belongs to the item; one field for all measures."""
    attribute = getattr(mapping.record, name)
    if isinstance(attribute, Taken):
        return pattern.format(column[attribute.from_])
    return f"NULL::{type_name}"


def time_expressions(time: Time, text: str = "ts_text") -> tuple[str, str]:
    """SQL for the local time and for the instant in `text`; at most one is not null."""
    kind = time.kind_of(time.format[0])
    parsed = f"try_strptime({text}, $formats::VARCHAR[])"
    if kind == "local":
        return parsed, "NULL::TIMESTAMP"
    if kind == "offset":
        return "NULL::TIMESTAMP", f"{parsed}::TIMESTAMP"
    if kind.startswith("epoch"):
        microseconds = 1_000_000 if kind == "epoch-seconds" else 1_000
        plain = f"CASE WHEN NOT contains({text}, '_') THEN {text} END"
        scaled = f"(try_cast({plain} AS DECIMAL(20, 6)) * {microseconds})"
        return "NULL::TIMESTAMP", f"TRY(make_timestamp(try_cast({scaled} AS BIGINT)))"
    local = _where(text, _ISO_TIME, f"try_cast({text} AS TIMESTAMP)")
    instant = f"try_cast(upper({text}) AS TIMESTAMPTZ)::TIMESTAMP"
    return (
        local if time.zone else "NULL::TIMESTAMP",
        _where(text, f"{_ISO_TIME}({_ISO_OFFSET})", instant),
    )


def _where(text: str, pattern: str, expression: str) -> str:
    return f"CASE WHEN regexp_full_match({text}, '{pattern}') THEN {expression} END"


def _issued_at(time: Time, column: str) -> str:
    """SQL for the declared export time, written as the times of the records are."""
    local, instant = time_expressions(time, f"trim({column})")
    placed = f"timezone('{time.zone}', {local})::TIMESTAMP" if time.zone else "NULL::TIMESTAMP"
    return f"coalesce({instant}, {placed})"


def _noon(time: Time, local: str) -> str:
    """Noon of the local day, where only a date was given (rule R4)."""
    return f"({local})::DATE + INTERVAL 12 HOUR" if time.clock == "date-only" else local


def attribute_plan(mapping: Mapping) -> pa.Table:
    """One row a measure and attribute: its constant, or the number of its word (from 1)."""
    fields = _word_fields(mapping)
    rows = [
        {
            "measure": index + 1,
            "attribute": name,
            "constant": attribute if isinstance(attribute, str) else None,
            "word": fields.index(attribute.from_) + 1 if isinstance(attribute, Taken) else None,
        }
        for index in range(len(mapping.measure))
        for name, attribute in mapping.attributes(index).items()
        if name in KEY_ATTRIBUTES
    ]
    schema = pa.schema(
        [
            ("measure", pa.int32()),
            ("attribute", pa.string()),
            ("constant", pa.string()),
            ("word", pa.int32()),
        ]
    )
    return pa.Table.from_pylist(rows, schema)


def attribute_words(mapping: Mapping) -> pa.Table:
    """One row a translated word: measure, attribute, word as sent, code of ours."""
    rows = [
        {"measure": index + 1, "attribute": name, "sent": sent, "code": code}
        for index in range(len(mapping.measure))
        for name, attribute in mapping.attributes(index).items()
        if name in KEY_ATTRIBUTES and isinstance(attribute, Taken)
        for sent, code in attribute.map.items()
    ]
    schema = pa.schema(
        [
            ("measure", pa.int32()),
            ("attribute", pa.string()),
            ("sent", pa.string()),
            ("code", pa.string()),
        ]
    )
    return pa.Table.from_pylist(rows, schema)


def measure_names(mapping: Mapping) -> pa.Table:
    """One row a measure: its number from 1 and the column or path its value stands in."""
    names = [measure.from_ for measure in mapping.measure]
    return pa.table(
        {"measure": pa.array(range(1, len(names) + 1), pa.int32()), "column_name": names}
    )


def _plausible(quantity: str, detector: str) -> float:
    """Highest value a machine shows, in the canonical unit; pure numbers have no such bound."""
    if detector in DIMENSIONLESS_DETECTORS:
        return math.inf
    return PLAUSIBLE_UP_TO.get(quantity, math.inf)


def unit_rules() -> pa.Table:
    """Every unit that fits a quantity and detector, and its way to the canonical one."""
    rows = [
        {
            "quantity": quantity,
            "detector": detector,
            "source_unit": unit.code,
            "unit": unit.canonical,
            "factor": unit.factor,
            "offset": unit.offset,
            "vibration": quantity in VIBRATION_QUANTITIES,
            "plausible": _plausible(quantity, detector),
        }
        for quantity in QUANTITY
        for detector in DETECTOR
        for (kind, _), unit in UNITS.items()
        if kind == unit_kind(quantity, detector)
    ]
    return pa.Table.from_pylist(rows)


_THOUSANDS = {".": "[.]", ",": "[,]", " ": r"[ \x{A0}\x{202F}]", "'": r"[''\x{2019}]"}
"""Marks between thousands as they are written: a space may be a no-break one, narrow or not."""


def plain_number(values: Values, text: str) -> str:
    """SQL of `text` as a number with a decimal point; blank where its marks are other ones.

    Thousands are marked throughout or not at all, three digits each: `1.2` is not 12.
    """
    plain = text
    if values.decimal == ",":
        plain = f"CASE WHEN contains({text}, '.') THEN '' ELSE replace({text}, ',', '.') END"
    if values.thousands is None:
        return plain
    mark = _THOUSANDS[values.thousands]
    whole = rf"[+-]?\d{{1,3}}({mark}\d{{3}})+([{values.decimal}]\d*)?"
    joined = f"replace(regexp_replace({text}, '{mark}', '', 'g'), '{values.decimal}', '.')"
    return (
        f"CASE WHEN regexp_full_match({text}, '{whole}') THEN {joined} "
        f"WHEN regexp_matches({text}, '{mark}') THEN '' ELSE {plain} END"
    )
