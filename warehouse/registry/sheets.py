"""Where registry rows come from: a folder of CSV files, or a workbook with a sheet an entity.

Either way a row is its line number and one text a column; what the texts mean
is told by `cells`.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from python_calamine import CalamineError, CalamineWorkbook

from schemas.columns import Column
from schemas.tables.registry import ENTITIES
from warehouse.errors import SourceMissingError, UnreadableSourceError

WORKBOOKS = (".xlsx", ".xlsm", ".ods")


@dataclass(frozen=True, slots=True)
class Sheet:
    """The rows of one entity as they stand: a label to name in faults, a header, numbered rows."""

    label: str
    header: list[str]
    rows: list[tuple[int, list[Any]]]
    workbook: bool = False


@dataclass(slots=True)
class Sheets:
    """Sheets by entity, what could not be read, and the entities of which rows may be in that."""

    found: dict[str, Sheet] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    unread: set[str] = field(default_factory=set)


def read_sheets(source: Path) -> Sheets:
    """What stands in a folder of CSVs or in a workbook.

    Raises SourceMissingError where there is nothing to import,
    UnreadableSourceError for a file that is no workbook.
    """
    if source.is_dir():
        return _read_folder(source)
    if not source.exists():
        raise SourceMissingError(
            str(source), "it is not there", "a folder of CSV files or a workbook is needed"
        )
    if source.suffix.lower() not in WORKBOOKS:
        raise UnreadableSourceError(
            str(source),
            "it is neither a folder nor a workbook",
            f"a folder of CSV files or a file ending in {', '.join(WORKBOOKS)} is needed",
        )
    return _read_workbook(source)


def _read_folder(folder: Path) -> Sheets:
    paths = {name: folder / f"{name}.csv" for name in ENTITIES}
    present = {name: path for name, path in paths.items() if path.is_file()}
    names = ", ".join(path.name for path in paths.values())
    strange = sorted(path.name for path in folder.glob("*.csv") if path.stem not in ENTITIES)
    if not present and not strange:
        raise SourceMissingError(str(folder), "no registry file is in it", f"looked for {names}")
    sheets = Sheets()
    sheets.faults += [f"{name}: is no kind of thing; allowed: {names}" for name in strange]
    if strange:  # it may be any of those that are not there
        sheets.unread |= ENTITIES.keys() - present.keys()
    for name, path in present.items():
        before = len(sheets.faults)
        _read_csv(name, path, sheets)
        if len(sheets.faults) > before or not sheets.found[name].header:
            sheets.unread.add(name)
    return sheets


def _read_csv(name: str, path: Path, sheets: Sheets) -> None:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        why = error.strerror or str(error)
        raise SourceMissingError(str(path), why, "a readable file is needed") from error
    except UnicodeDecodeError as error:
        sheets.faults.append(f"{path.name}: not readable as UTF-8 text: {error}")
        return
    numbered = list(_numbered(text, path.name, sheets.faults))
    header = [cell.strip() for cell in numbered[0][1]] if numbered else []
    sheets.found[name] = Sheet(path.name, header, numbered[1:])


def _numbered(text: str, label: str, faults: list[str]) -> Iterator[tuple[int, list[Any]]]:
    """Rows that hold anything, each with the line it starts on."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    line = 1
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            faults.append(
                f"{label} line {line}: a quote that opens there is not closed, or text stands "
                f"behind one that closes ({error})"
            )
            row = []
        if any(cell.strip() for cell in row):
            yield line, row
        line = reader.line_num + 1


def _read_workbook(path: Path) -> Sheets:
    try:
        workbook = CalamineWorkbook.from_path(path)
        pages = {
            name: workbook.get_sheet_by_name(name).to_python(skip_empty_area=False)
            for name in workbook.sheet_names
            if not name.startswith("_")
        }
    except PermissionError as error:
        raise SourceMissingError(
            str(path), error.strerror or str(error), "a readable file is needed"
        ) from error
    except (CalamineError, OSError, ValueError, IndexError) as error:
        raise UnreadableSourceError(
            str(path), f"it is no readable workbook: {error}", "an XLSX or ODS file is needed"
        ) from error
    sheets = Sheets()
    for name, page in pages.items():
        if name in ENTITIES:
            sheets.found[name] = _sheet(f"{path.name} sheet {name}", page)
        elif any(_filled(row) for row in page):
            sheets.faults.append(
                f"{path.name} sheet {name}: is no kind of thing; allowed: {', '.join(ENTITIES)}, "
                "and any name that starts with _"
            )
    if not sheets.found and not sheets.faults:
        raise SourceMissingError(
            str(path), "no registry sheet is in it", f"looked for {', '.join(ENTITIES)}"
        )
    if sheets.faults:  # a sheet of no known name may be any of those that are not there
        sheets.unread |= ENTITIES.keys() - sheets.found.keys()
    return sheets


def _sheet(label: str, page: list[list[Any]]) -> Sheet:
    header = [str(cell).strip() for cell in page[0]] if page else []
    while header and not header[-1]:
        header.pop()
    rows = [
        (number, row[: len(header)] if not _filled(row[len(header) :]) else row)
        for number, row in enumerate(page[1:], 2)
        if _filled(row)
    ]
    return Sheet(label, header, rows, workbook=True)


def _filled(row: Iterable[Any]) -> bool:
    return any(cell is not None and str(cell).strip() for cell in row)


def cell_text(column: Column, cell: Any) -> str:
    """A workbook cell as the text a CSV would hold. Raises ValueError for a code become a date.

    A date cell carries no zone: in a time column it is taken as UTC, as the
    column says.
    """
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return str(cell).lower()
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    if isinstance(cell, dt.date | dt.time | dt.timedelta):
        return _date_text(column, cell)
    return "" if cell is None else str(cell)


def _date_text(column: Column, cell: dt.date | dt.time | dt.timedelta) -> str:
    if column.type != "timestamp" or not isinstance(cell, dt.date):
        kind = "code" if column.type == "string" else "number"
        raise ValueError(
            f"holds the date {cell} where a {kind} is expected; format the column as text"
        )
    if not isinstance(cell, dt.datetime):
        return f"{cell.isoformat()}T00:00:00+00:00"
    to_the_second = (cell + dt.timedelta(milliseconds=500)).replace(microsecond=0)
    return to_the_second.replace(tzinfo=dt.UTC).isoformat()


def cell_name(index: int, line: int) -> str:
    """The name of a cell in a spreadsheet: column 1, line 3 is B3."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return f"{letters}{line}"
