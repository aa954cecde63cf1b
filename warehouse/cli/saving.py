"""Writing a result to a file: CSV, or a workbook."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.csv
import typer
import xlsxwriter

from warehouse.refusals import plain_refusals

_WIDEST = 60


def write_csv(rows: pa.Table, target: Path) -> None:
    """Write a CSV file, whole or not at all."""
    with plain_refusals(target):
        try:
            pyarrow.csv.write_csv(rows, target)
        except OSError:
            target.unlink(missing_ok=True)
            raise


def check_workbook(target: Path) -> None:
    """Raise the fault of a command line where the name is no workbook's."""
    if target.suffix.lower() != ".xlsx":
        raise typer.BadParameter(f"{target} is no workbook: its name must end with .xlsx")


def write_workbook(rows: pa.Table, target: Path, sheet: str, notes: list[str]) -> None:
    """Write rows as a sheet with a filter over them, and the notes on a sheet of their own."""
    with plain_refusals(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        with xlsxwriter.Workbook(target) as book:
            head = book.add_format({"bold": True, "bottom": 1})
            moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
            page = book.add_worksheet(sheet[:31])
            page.freeze_panes(1, 0)
            for number, name in enumerate(rows.column_names):
                cells = rows.column(name).to_pylist()
                width = max([len(name), *(len(str(cell)) for cell in cells[:200])])
                page.set_column(number, number, min(width + 2, _WIDEST))
                page.write_string(0, number, name, head)
                for line, cell in enumerate(cells, 1):
                    _write(page, line, number, cell, moment)
            page.autofilter(0, 0, max(rows.num_rows, 1), max(rows.num_columns - 1, 0))
            told = book.add_worksheet("Notes")
            told.set_column(0, 0, 2 * _WIDEST)
            for line, note in enumerate(notes):
                told.write_string(line, 0, note)


def _write(page: Any, line: int, column: int, cell: Any, moment: Any) -> None:
    """Texts as texts, so that no spreadsheet takes one for a formula; times in UTC."""
    if cell is None:
        return
    if isinstance(cell, bool):
        page.write_boolean(line, column, cell)
    elif isinstance(cell, (int, float)):
        page.write_number(line, column, cell)
    elif isinstance(cell, dt.datetime):
        page.write_datetime(line, column, cell.astimezone(dt.UTC).replace(tzinfo=None), moment)
    else:
        page.write_string(line, column, str(cell))
