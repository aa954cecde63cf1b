"""The page of columns, codes and units: what may stand in registry files and mappings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from schemas import codes
from schemas.columns import Column, Table
from schemas.tables import rounds, work
from schemas.tables.registry import ENTITIES
from schemas.units import UNITS
from warehouse.registry.cells import TRUTH


def vocabulary() -> str:
    """Columns of every registry file, every code list, and the unit table."""
    lines = [
        "# Columns, codes and units",
        "",
        "Made by `python -m warehouse.cli.reference vocabulary`; do not edit.",
        "",
        "## Registry files",
        "",
        "A blank cell is null. Times are ISO 8601 with an offset, such as `2025-06-01T00:00:00Z`.",
        f"What is {' or '.join(TRUTH)} is written so, in capitals or not, and in no other words.",
    ]
    for table in ENTITIES.values():
        lines += ["", *_entity(table)]
    lines += ["", "## Codes", ""]
    lines += ["What may stand in columns, and in a mapping, of the same name."]
    for name, listed in _code_lists():
        lines += [
            "",
            f"### {name.lower().replace('_', ' ')}",
            "",
            "| code | meaning |",
            "|---|---|",
        ]
        lines += [f"| `{code}` | {_cell(meaning)} |" for code, meaning in listed.items()]
    lines += ["", "## Units", "", "UCUM codes; stored in the unit of the third column.", ""]
    lines += ["| code | measures | stored in | name |", "|---|---|---|---|"]
    lines += [f"| `{u.code}` | {u.kind} | `{u.canonical}` | {u.name} |" for u in UNITS.values()]
    return "\n".join(lines) + "\n"


def _entity(table: Table) -> Iterator[str]:
    yield f"### `{table.name}`"
    yield ""
    yield f"{table.purpose} Grain: {table.grain}; told apart by {', '.join(table.key)}."
    yield ""
    yield "| column | needed | holds | meaning |"
    yield "|---|---|---|---|"
    for column in table.columns:
        needed = "yes" if column.required else ""
        yield f"| `{column.name}` | {needed} | {_holds(column)} | {_cell(column.description)} |"


def _holds(column: Column) -> str:
    if column.codes:
        return f"a code: {column.codes.lower().replace('_', ' ')}"
    words = {"string": "text", "int32": "whole number", "int64": "whole number"}
    words |= {"float64": "number", "bool": "true or false", "timestamp": "time"}
    return words.get(column.type, column.type) + (f" in {column.unit}" if column.unit else "")


def _code_lists() -> Iterator[tuple[str, Mapping[str, str]]]:
    for place in (codes, work, rounds):
        for name in dir(place):
            listed = getattr(place, name)
            if name.isupper() and isinstance(listed, Mapping):
                yield name, listed


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
