"""A list for a meeting as a workbook: a title, what it says and does not say, and one table."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import xlsxwriter

_WIDEST = 60


@dataclass(frozen=True, slots=True)
class Listing:
    """A table with its title, the notes above it, and rows of plain cells."""

    title: str
    notes: Sequence[str]
    columns: Sequence[str]
    rows: Sequence[Sequence[Any]]


def listing_book(listing: Listing) -> bytes:
    """The listing as XLSX, to be filtered on a screen and printed across; same rows, same bytes."""
    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer, {"in_memory": True}) as book:
        book.set_properties({"title": listing.title, "created": datetime(2025, 1, 1, tzinfo=UTC)})
        page = book.add_worksheet("List")
        head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        text = book.add_format({"num_format": "@", "text_wrap": True, "valign": "top"})
        number = book.add_format({"valign": "top"})
        page.write_string(0, 0, listing.title, book.add_format({"bold": True, "font_size": 14}))
        for line, note in enumerate(listing.notes, 1):
            page.write_string(line, 0, note)
        first = len(listing.notes) + 2
        for column, name in enumerate(listing.columns):
            page.set_column(column, column, _width(listing, column))
            page.write_string(first, column, name, head)
        for line, row in enumerate(listing.rows, first + 1):
            for column, cell in enumerate(row):
                _write(page, line, column, cell, number, text)
        page.freeze_panes(first + 1, 2)
        page.repeat_rows(first)
        page.autofilter(first, 0, first + max(1, len(listing.rows)), len(listing.columns) - 1)
        page.set_landscape()
        page.fit_to_pages(1, 0)
    return buffer.getvalue()


def _width(listing: Listing, column: int) -> int:
    cells = [listing.columns[column], *(row[column] for row in listing.rows)]
    return min(_WIDEST, 2 + max(len("" if cell is None else str(cell)) for cell in cells))


def _write(page: Any, line: int, column: int, cell: Any, number: Any, text: Any) -> None:
    """Codes and times as text, so that no spreadsheet turns them into dates or formulas."""
    if cell is None:
        page.write_blank(line, column, None, text)
    elif isinstance(cell, int | float) and not isinstance(cell, bool):
        page.write_number(line, column, cell, number)
    else:
        page.write_string(line, column, str(cell), text)
