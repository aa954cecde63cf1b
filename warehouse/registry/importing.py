"""Importing the registry from a folder of CSV files: every fault listed, or nothing imported."""

from __future__ import annotations

import csv
import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyarrow as pa

from schemas.columns import Column, Table
from schemas.tables.registry import ENTITIES, REGISTRY
from warehouse.errors import RegistryError, SourceMissingError
from warehouse.registry.cells import read_cell
from warehouse.registry.checks import check_together

Rows = dict[str, list[dict[str, Any]]]
"""Entities by kind, each a row of plain values."""


def read_folder(folder: Path, known: dict[str, pa.Table]) -> Rows:
    """Entities from every CSV of `folder` that bears the name of an entity.

    `known` is the registry so far: references may point into it. Raises
    SourceMissingError where there is no such file, RegistryError with every
    fault, each naming file, line and column.
    """
    paths = {name: folder / f"{name}.csv" for name in ENTITIES}
    present = {name: path for name, path in paths.items() if path.is_file()}
    if not present:
        names = ", ".join(path.name for path in paths.values())
        raise SourceMissingError(str(folder), "no registry file is in it", f"looked for {names}")
    faults: list[str] = []
    rows: Rows = {}
    for name, path in present.items():
        rows[name] = list(_read(path, ENTITIES[name], faults))
    if not faults:
        faults.extend(check_together(rows, known))
    if faults:
        raise RegistryError(faults)
    for found in rows.values():
        for row in found:
            row.pop("_line")
    return rows


def _read(path: Path, table: Table, faults: list[str]) -> Iterator[dict[str, Any]]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        faults.append(f"{path.name}: not readable as UTF-8 text: {error}")
        return
    reader = csv.DictReader(text.splitlines())
    header = [name.strip() for name in reader.fieldnames or []]
    reader.fieldnames = header
    missing = [c.name for c in table.columns if c.required and c.name not in header]
    unknown = [name for name in header if name not in table.column_names]
    if missing:
        faults.append(f"{path.name}: line 1 lacks the column {', '.join(missing)}")
    if unknown:
        faults.append(
            f"{path.name}: line 1 has the unknown column {', '.join(unknown)}; "
            f"allowed: {', '.join(table.column_names)}"
        )
    if missing or unknown:
        return
    for number, cells in enumerate(reader, 2):
        if any(text and text.strip() for text in cells.values() if isinstance(text, str)):
            yield from _row(path.name, number, cells, table, faults)


def _row(
    file: str, number: int, cells: dict[str, Any], table: Table, faults: list[str]
) -> Iterator[dict[str, Any]]:
    row: dict[str, Any] = {"_line": f"{file} line {number}"}
    before = len(faults)
    if None in cells or None in cells.values():
        faults.append(f"{file} line {number}: has not the {len(table.column_names)} columns named")
        return
    for column in table.columns:
        row[column.name] = _cell(file, number, column, cells.get(column.name, ""), faults)
    if len(faults) == before:
        yield row


def _cell(file: str, number: int, column: Column, text: str, faults: list[str]) -> Any:
    try:
        return read_cell(column, text.strip())
    except ValueError as error:
        faults.append(f"{file} line {number} column {column.name}: {error}")
        return None


def to_events(rows: Rows, event_set: int, recorded_at: dt.datetime) -> pa.Table:
    """One event an entity, in the columns of table `registry`."""
    events = [
        {
            "entity": name,
            "id": "/".join(_key_text(row[key]) for key in ENTITIES[name].key),
            "valid_from": None,
            "recorded_at": recorded_at,
            "event_set": event_set,
            "body": json.dumps(row, default=_json, sort_keys=True),
        }
        for name, found in rows.items()
        for row in found
    ]
    return pa.Table.from_pylist(events, REGISTRY.arrow)


def _key_text(value: Any) -> str:
    return value.isoformat() if isinstance(value, dt.datetime) else str(value)


def _json(value: Any) -> str:
    if isinstance(value, dt.datetime):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} has no JSON form")
