"""Reading a sheet, every cell as text."""

from __future__ import annotations

import datetime as dt
from typing import Any

import duckdb
import pyarrow as pa
from python_calamine import CalamineError, CalamineWorkbook

from warehouse.adapters.base import Decoding, field_names, fill_records, fill_refused
from warehouse.errors import UnreadableSourceError
from warehouse.mapping import AnyMapping


class WorkbookAdapter:
    """Adapter for spreadsheet workbooks."""

    name = "workbook"
    suffixes = (".xlsx", ".ods")

    def read(self, decoding: Decoding, session: duckdb.DuckDBPyConnection) -> None:
        """Fill `records` and `refused`; raises UnreadableSourceError for an unusable file."""
        rows = _rows(decoding)
        columns = _columns(rows, decoding)
        start = decoding.mapping.file.header_line
        body = [row for row in enumerate(rows[start:], start + 1) if any(map(_text, row[1]))]
        dated = _date_typed_identities(body, columns, decoding.mapping)
        lines_out = {row["line"] for row in dated}
        kept = [(line, row) for line, row in body if line not in lines_out]
        table = {"line": pa.array([line for line, _ in kept], pa.int64())}
        for name, column in zip(field_names(decoding.mapping), columns, strict=True):
            table[name] = pa.array([_text(row[column]) for _, row in kept], pa.string())
        fill_records(session, pa.table(table))
        fill_refused(session, dated)


def _rows(decoding: Decoding) -> list[list[Any]]:
    sheet = decoding.mapping.file.sheet
    try:
        workbook = CalamineWorkbook.from_path(decoding.payload)
        names = workbook.sheet_names
        if sheet is not None and sheet not in names:
            raise UnreadableSourceError(
                decoding.file, f"it has no sheet {sheet!r}", f"it has {', '.join(names)}"
            )
        page = workbook.get_sheet_by_name(sheet or names[0])
        return page.to_python(skip_empty_area=False)
    except (CalamineError, OSError, ValueError, IndexError) as error:
        raise UnreadableSourceError(
            decoding.file, f"it is no readable workbook: {error}", "an XLSX or ODS file is needed"
        ) from error


def _columns(rows: list[list[Any]], decoding: Decoding) -> list[int]:
    header_line = decoding.mapping.file.header_line
    header = [
        _text(cell).strip()
        for cell in rows[header_line - 1 : header_line] and rows[header_line - 1]
    ]
    missing = [name for name in decoding.mapping.fields if header.count(name) != 1]
    if missing:
        raise UnreadableSourceError(
            decoding.file,
            f"row {header_line} lacks (or has twice) the column {', '.join(map(repr, missing))}",
            f"it has {', '.join(map(repr, header[:30])) or 'no text'}; "
            "mend the mapping's `from`, `sheet` or `header_line`",
        )
    return [header.index(name) for name in decoding.mapping.fields]


def _text(cell: Any) -> str:
    if isinstance(cell, bool):
        return str(cell).lower()
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    if isinstance(cell, dt.datetime) and cell.time() == dt.time():
        return cell.date().isoformat()
    if isinstance(cell, dt.datetime):
        return cell.isoformat(sep=" ")
    return "" if cell is None else str(cell)


def _date_typed_identities(
    body: list[tuple[int, list[Any]]], columns: list[int], mapping: AnyMapping
) -> list[dict[str, object]]:
    """Rows whose device, channel or stop is a date cell (a code such as 6-15 once), once each."""
    fields = sorted(mapping.identity_fields)
    places = [(name, columns[mapping.fields.index(name)]) for name in fields]
    dated = [
        (line, [(name, row[column]) for name, column in places if isinstance(row[column], dt.date)])
        for line, row in body
    ]
    return [
        {
            "line": line,
            "column_name": cells[0][0],
            "reason": "date-typed-identity",
            "detail": f"column {cells[0][0]!r} holds the date {_text(cells[0][1])} where a code "
            "is expected; format the column as text",
            "raw": _text(cells[0][1]),
        }
        for line, cells in dated
        if cells
    ]
