"""Workbooks: cells as text, rows as lines, codes that became dates. Invented data."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from tests.warehouse.adapters.reading import mapping_text, read
from warehouse.errors import UnreadableSourceError


def workbook(*sheets: tuple[str, Sequence[Sequence[Any]]]) -> bytes:
    """An XLSX file; dates become date cells."""
    target = io.BytesIO()
    with xlsxwriter.Workbook(target, {"default_date_format": "yyyy-mm-dd hh:mm"}) as book:
        for name, rows in sheets:
            sheet = book.add_worksheet(name)
            for number, row in enumerate(rows):
                for column, cell in enumerate(row):
                    if cell is not None:
                        sheet.write(number, column, cell)
    return target.getvalue()


PLAIN = mapping_text("workbook", "v")


def test_rows_keep_their_number_in_the_sheet(tmp_path: Path) -> None:
    rows: list[list[Any]] = [["about"], [], ["t", "v"], ["A", 1], [], ["B", 2]]
    mapping = mapping_text("workbook", "v", file="header_line = 3")
    records, refused = read(tmp_path, workbook(("S", rows)), mapping)
    assert records == [{"line": 4, "t": "A", "v": "1"}, {"line": 6, "t": "B", "v": "2"}]
    assert not refused


def test_cells_become_the_text_a_person_reads(tmp_path: Path) -> None:
    cells = [2.5, 3.0, 1480, True, "2.50", None, dt.datetime(2025, 6, 1)]
    cells.append(dt.datetime(2025, 6, 1, 10, 5))
    rows: list[list[Any]] = [["t", "v"], *(["A", cell] for cell in cells)]
    records, _ = read(tmp_path, workbook(("S", rows)), PLAIN)
    assert [row["v"] for row in records] == [
        "2.5",
        "3",
        "1480",
        "true",
        "2.50",
        "",
        "2025-06-01",
        "2025-06-01 10:05:00",
    ]


def test_the_named_sheet_is_read_else_the_first(tmp_path: Path) -> None:
    book = workbook(("One", [["t", "v"], ["A", 1]]), ("Two", [["t", "v"], ["B", 2]]))
    assert read(tmp_path, book, PLAIN)[0][0]["t"] == "A"
    second = mapping_text("workbook", "v", file='sheet = "Two"')
    assert read(tmp_path, book, second)[0][0]["t"] == "B"
    third = mapping_text("workbook", "v", file='sheet = "Three"')
    with pytest.raises(UnreadableSourceError, match="it has no sheet 'Three'; it has One, Two"):
        read(tmp_path, book, third)


def test_device_and_channel_that_became_dates_are_refused_once_a_row(tmp_path: Path) -> None:
    mapping = mapping_text("workbook", "v", device='{ from = "dev" }', channel='{ from = "ch" }')
    day = dt.datetime(2025, 6, 15)
    rows: list[list[Any]] = [
        ["t", "v", "dev", "ch"],
        ["A", 1, "M", day],
        ["B", 2, "M", "6-15"],
        ["C", 3, day, day],
        [day, 4, "M", "6-15"],
    ]
    records, refused = read(tmp_path, workbook(("S", rows)), mapping)
    assert [row["line"] for row in records] == [3, 5], "a date in the time column is no fault"
    assert [(row["line"], row["column"], row["reason"], row["raw"]) for row in refused] == [
        (2, "ch", "date-typed-identity", "2025-06-15"),
        (4, "ch", "date-typed-identity", "2025-06-15"),
    ]
    assert refused[0]["detail"] == (
        "column 'ch' holds the date 2025-06-15 where a code is expected; format the column as text"
    )


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        ([["t", "w"], ["A", 1]], "row 1 lacks .* the column 'v'; it has 't', 'w'"),
        ([["t", "v", "v"], ["A", 1, 2]], "row 1 lacks .or has twice. the column 'v'"),
        ([], "it has no text"),
    ],
)
def test_unusable_sheet_is_refused_whole(
    tmp_path: Path, rows: list[list[Any]], message: str
) -> None:
    with pytest.raises(UnreadableSourceError, match=message):
        read(tmp_path, workbook(("S", rows)), PLAIN)


def test_text_is_no_workbook(tmp_path: Path) -> None:
    with pytest.raises(UnreadableSourceError, match="it is no readable workbook"):
        read(tmp_path, b"t,v\nA,1\n", PLAIN)
