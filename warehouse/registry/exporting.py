"""Exporting the registry as it stands, in the form an import reads."""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path
from typing import Any

import pyarrow as pa
import xlsxwriter

from schemas.tables.registry import ENTITIES
from warehouse.errors import RegistryError
from warehouse.wording import counted

_LONGEST_CELL = 32_767
_MOST_ROWS = 1_048_575


def export_entities(entities: dict[str, pa.Table], target: Path) -> dict[str, int]:
    """Write every kind that has rows to a folder of CSVs, or to a workbook (`.xlsx`).

    Returns rows by kind. Raises RegistryError where a workbook cannot hold
    what there is.
    """
    filled = {name: entities[name] for name in ENTITIES if entities[name].num_rows}
    if target.suffix.lower() == ".xlsx":
        _write_workbook(filled, target)
    else:
        target.mkdir(parents=True, exist_ok=True)
        for name, table in filled.items():
            _write_csv(table, target / f"{name}.csv")
    return {name: table.num_rows for name, table in filled.items()}


def _write_csv(table: pa.Table, path: Path) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(table.column_names)
        columns = [table.column(name).to_pylist() for name in table.column_names]
        writer.writerows([_text(cell) for cell in row] for row in zip(*columns, strict=True))


def _text(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return str(cell).lower()
    if isinstance(cell, dt.datetime):
        return cell.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")
    return repr(cell) if isinstance(cell, float) else str(cell)


def _write_workbook(entities: dict[str, pa.Table], path: Path) -> None:
    faults = [fault for name, table in entities.items() for fault in _too_big(name, table)]
    if faults:
        raise RegistryError(faults)
    path.parent.mkdir(parents=True, exist_ok=True)
    with xlsxwriter.Workbook(path, {"constant_memory": True}) as workbook:
        as_text = workbook.add_format({"num_format": "@"})
        for name, table in entities.items():
            sheet = workbook.add_worksheet(name)
            sheet.freeze_panes(1, 0)
            for column, title in enumerate(table.column_names):
                sheet.write_string(0, column, title)
                sheet.set_column(column, column, max(12, len(title) + 2))
            columns = [table.column(title).to_pylist() for title in table.column_names]
            for line, row in enumerate(zip(*columns, strict=True), 1):
                for column, cell in enumerate(row):
                    _write_cell(sheet, line, column, cell, as_text)


def _write_cell(sheet: Any, line: int, column: int, cell: Any, as_text: Any) -> None:
    """Codes and times as text, so that no spreadsheet turns them into dates or numbers."""
    if cell is None:
        return
    number = isinstance(cell, int | float) and not isinstance(cell, bool)
    if number and float(f"{cell:.16G}") == cell:
        sheet.write_number(line, column, cell)
    else:
        sheet.write_string(line, column, _text(cell), as_text)


def _too_big(name: str, table: pa.Table) -> list[str]:
    faults = []
    if table.num_rows > _MOST_ROWS:
        faults.append(f"{name}: {table.num_rows:,} rows do not fit a sheet; export to a folder")
    for title in table.column_names:
        column = table.column(title)
        if pa.types.is_string(column.type):
            long = [cell for cell in column.to_pylist() if cell and len(cell) > _LONGEST_CELL]
            if long:
                faults.append(
                    f"{name} column {title}: {counted(len(long), 'text')} of more than a cell "
                    "holds; export to a folder"
                )
    return faults
