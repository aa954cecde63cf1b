"""Each table as JSON Schema (draft 2020-12), one row as an object."""

from __future__ import annotations

from typing import Any

from schemas import FORMAT_VERSION, codes
from schemas.columns import Column, Table
from schemas.reasons import REJECT_REASON
from schemas.tables import TABLES, conditions, rounds, work
from schemas.tables.registry import ENTITIES

_TYPES: dict[str, dict[str, Any]] = {
    "string": {"type": "string"},
    "int32": {"type": "integer"},
    "int64": {"type": "integer"},
    "float64": {"type": "number"},
    "bool": {"type": "boolean"},
    "timestamp": {"type": "string", "format": "date-time"},
    "date": {"type": "string", "format": "date"},
}


def code_list(name: str) -> dict[str, str]:
    """Codes and meanings of a list by the name a column refers to it by."""
    if name == "REJECT_REASON":
        return {code: reason.meaning for code, reason in REJECT_REASON.items()}
    places = (codes, conditions, work, rounds)
    found = next(getattr(place, name) for place in places if hasattr(place, name))
    return dict(found)


def column_schema(column: Column) -> dict[str, Any]:
    """JSON Schema of one column; `x-unit` carries its unit, `x-codes` what its codes mean."""
    schema = dict(_TYPES[column.type])
    schema["description"] = column.description
    if column.codes:
        meanings = code_list(column.codes)
        schema["enum"] = [*meanings, *([] if column.required else [None])]
        schema["x-codes"] = meanings
    if not column.required:
        schema["type"] = [schema["type"], "null"]
    if column.unit:
        schema["x-unit"] = column.unit
    return schema


def table_schema(table: Table) -> dict[str, Any]:
    """JSON Schema of one row of the table; `x-key` names the identifying columns."""
    return {
        "title": table.name,
        "description": f"{table.purpose} Grain: {table.grain}.",
        "type": "object",
        "additionalProperties": False,
        "required": [column.name for column in table.columns if column.required],
        "properties": {column.name: column_schema(column) for column in table.columns},
        "x-key": list(table.key),
        "x-partition-by": list(table.partition_by),
    }


def schema_document() -> dict[str, Any]:
    """All tables and registry entities as one JSON Schema document."""
    every = {**TABLES, **ENTITIES}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Machine condition dataset",
        "description": "The open schema: one definition a table; a row is an object.",
        "x-format-version": FORMAT_VERSION,
        "$defs": {name: table_schema(table) for name, table in every.items()},
    }
