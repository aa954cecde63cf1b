"""Importing the registry from CSV files or a workbook: every fault listed, or nothing imported."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Container, Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import takewhile
from pathlib import Path
from typing import Any

import pyarrow as pa

from schemas.columns import Column, Table
from schemas.tables.registry import ENTITIES, REGISTRY
from warehouse.errors import RegistryError
from warehouse.registry.cells import FAULTY, read_cell
from warehouse.registry.checks import check_together
from warehouse.registry.sheets import Sheet, cell_name, cell_text, read_sheets

Rows = dict[str, list[dict[str, Any]]]
"""Entities by kind, each a row of plain values."""

WITHDRAW = "withdraw"
"""A column any file may have besides its own: true takes the entity of that key back."""
_WITHDRAW = Column(WITHDRAW, "bool", "true: the entity no longer stands")


@dataclass(frozen=True, slots=True)
class Statements:
    """What an import states: entities, and those it takes back (key columns count there).

    `gone_before` counts, by kind, those that an earlier import has taken back already.
    """

    rows: Rows
    withdrawn: Rows = field(default_factory=dict)
    gone_before: dict[str, int] = field(default_factory=dict)

    @property
    def counts(self) -> dict[str, int]:
        """Rows by kind."""
        return {
            name: len(rows) + len(self.withdrawn.get(name, [])) + self.gone_before.get(name, 0)
            for name, rows in self.rows.items()
        }


def read_folder(folder: Path, known: dict[str, pa.Table]) -> Rows:
    """Entities from every CSV of `folder` (or sheet of a workbook) that bears an entity's name.

    `known` is the registry so far: references may point into it. Raises
    SourceMissingError where there is no such file, RegistryError with every
    fault, each naming file, line and column.
    """
    return read_statements(folder, known).rows


def read_statements(
    source: Path, known: dict[str, pa.Table], gone: Container[tuple[str, str]] = ()
) -> Statements:
    """As `read_folder`, with the entities that are taken back beside those that are stated.

    What was taken back before (`gone`, by kind and id) may be taken back again: nothing changes.
    """
    sheets = read_sheets(source)
    faults = sheets.faults
    rows: Rows = {}
    withdrawn: Rows = {}
    gone_before: dict[str, int] = {}
    for name, sheet in sheets.found.items():
        table = ENTITIES[name]
        rows[name], taken_back = _read(sheet, table, faults)
        withdrawn[name] = [r for r in taken_back if (name, entity_id(table, r)) not in gone]
        gone_before[name] = len(taken_back) - len(withdrawn[name])
    faults.extend(check_together(rows, known, withdrawn, sheets.unread))
    if faults:
        raise RegistryError(faults)
    for found in (*rows.values(), *withdrawn.values()):
        for row in found:
            row.pop("_line")
    withdrawn = {name: found for name, found in withdrawn.items() if found}
    return Statements(rows, withdrawn, gone_before)


def _read(
    sheet: Sheet, table: Table, faults: list[str]
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Rows stated and rows taken back; column by column, each different text looked at once.

    A cell with a fault is FAULTY in its row: the sound ones are checked all the same.
    """
    before = len(faults)
    sheet = _even(sheet, table, faults)
    heard: list[tuple[int, str]] = []
    back = _values(sheet, _WITHDRAW, range(len(sheet.rows)), heard)
    faults.extend(text for _, text in heard)
    kept = [index for index, taken in enumerate(back) if not taken]
    gone = [index for index, taken in enumerate(back) if taken is True]
    unsure = [index for index, taken in enumerate(back) if taken is FAULTY]
    keys = [column for column in table.columns if column.name in table.key]
    only_keys = WITHDRAW in sheet.header and not kept
    faults[before:before] = _header_faults(sheet, table, keys if only_keys else table.columns)
    stated = _rows(sheet, table.columns, kept, faults)
    nothing = dict.fromkeys(table.column_names, FAULTY)
    stated += [nothing | row for row in _rows(sheet, keys, unsure, faults)]
    return stated, _rows(sheet, keys, gone, faults)


def _even(sheet: Sheet, table: Table, faults: list[str]) -> Sheet:
    """The sheet with as many cells in every row as columns are named.

    Where there were more or fewer, something may have slipped from the first
    column on that is not of the key: from there on nothing is believed.
    """
    width = len(sheet.header)
    believed = len(list(takewhile(lambda name: name in table.key, sheet.header)))
    rows = []
    for number, cells in sheet.rows:
        if len(cells) == width:
            rows.append((number, cells))
            continue
        faults.append(f"{sheet.label} line {number}: has not the {width} columns named")
        key = cells[:believed]
        rows.append((number, [*key, *[FAULTY] * (width - len(key))]))
    return replace(sheet, rows=rows)


def _rows(
    sheet: Sheet, columns: Iterable[Column], chosen: list[int], faults: list[str]
) -> list[dict[str, Any]]:
    found: dict[str, list[Any]] = {
        "_line": [f"{sheet.label} line {sheet.rows[index][0]}" for index in chosen]
    }
    heard: list[tuple[int, str]] = []
    for column in columns:
        found[column.name] = _values(sheet, column, chosen, heard)
    faults.extend(text for _, text in sorted(heard, key=lambda fault: fault[0]))
    names = list(found)
    return [dict(zip(names, values, strict=True)) for values in zip(*found.values(), strict=True)]


def _values(
    sheet: Sheet, column: Column, chosen: Iterable[int], heard: list[tuple[int, str]]
) -> list[Any]:
    """Values of a column at the chosen rows; `heard` gets the faults with their line."""
    named = sheet.header.count(column.name)
    if named != 1:
        return [FAULTY if named or column.required else None for _ in chosen]
    place = sheet.header.index(column.name)
    seen: dict[Any, Any] = {(type(FAULTY), FAULTY): FAULTY}
    values = []
    for index in chosen:
        line, cells = sheet.rows[index]
        cell = cells[place]
        known = (type(cell), cell)
        if known not in seen:
            seen[known] = _value(column, cell)
        value = seen[known]
        if isinstance(value, ValueError):
            where = f" (cell {cell_name(place, line)})" if sheet.workbook else ""
            heard.append((line, f"{sheet.label} line {line} column {column.name}{where}: {value}"))
            value = FAULTY
        values.append(value)
    return values


def _value(column: Column, cell: Any) -> Any:
    try:
        return read_cell(column, cell_text(column, cell).strip())
    except ValueError as error:
        return error


def _header_faults(sheet: Sheet, table: Table, needed: Iterable[Column]) -> Iterator[str]:
    allowed = (*table.column_names, WITHDRAW)
    missing = [c.name for c in needed if c.required and c.name not in sheet.header]
    unknown = [name for name in sheet.header if name not in allowed]
    twice = sorted({name for name in sheet.header if sheet.header.count(name) > 1} - set(unknown))
    if missing:
        yield f"{sheet.label}: line 1 lacks the column {', '.join(missing)}"
    if unknown:
        yield (
            f"{sheet.label}: line 1 has the unknown column {', '.join(unknown)}; "
            f"allowed: {', '.join(allowed)}"
        )
    if twice:
        yield f"{sheet.label}: line 1 names the column {', '.join(twice)} twice"


def to_events(
    rows: Rows, event_set: int, recorded_at: dt.datetime, withdrawn: Rows | None = None
) -> pa.Table:
    """One event an entity, in the columns of table `registry`; a null body withdraws."""
    entities: list[str] = []
    ids: list[str] = []
    bodies: list[str | None] = []
    for name, found in rows.items():
        entities += [name] * len(found)
        ids += [entity_id(ENTITIES[name], row) for row in found]
        bodies += [json.dumps(row, default=_json, sort_keys=True) for row in found]
    for name, found in (withdrawn or {}).items():
        entities += [name] * len(found)
        ids += [entity_id(ENTITIES[name], row) for row in found]
        bodies += [None] * len(found)
    count = len(ids)
    columns = {
        "entity": entities,
        "id": ids,
        "valid_from": [None] * count,
        "recorded_at": [recorded_at] * count,
        "event_set": [event_set] * count,
        "body": bodies,
    }
    return pa.table(columns, schema=REGISTRY.arrow)


def entity_id(table: Table, row: dict[str, Any]) -> str:
    """Key of an entity as the event table writes it; a blank part of it is left out."""
    return "/".join(_key_text(row[key]) for key in table.key if row[key] is not None)


def _key_text(value: Any) -> str:
    return value.isoformat() if isinstance(value, dt.datetime) else str(value)


def _json(value: Any) -> str:
    if isinstance(value, dt.datetime):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no JSON form")
