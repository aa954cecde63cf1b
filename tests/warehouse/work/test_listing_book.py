"""Lists as workbooks: every cell as it is, nothing a spreadsheet would make of it."""

from __future__ import annotations

import io

from python_calamine import CalamineWorkbook

from warehouse.work.listing_book import Listing, listing_book

_LISTING = Listing(
    "List", ["Note one", "=2+2"], ["Name", "Value"], [["=1+1", 0.25], ["0012", None], ["1/2", 3]]
)


def _rows(content: bytes) -> list[list[object]]:
    page = CalamineWorkbook.from_filelike(io.BytesIO(content)).get_sheet_by_name("List")
    return [list(row) for row in page.to_python()]


def test_cells_stand_as_they_are() -> None:
    rows = _rows(listing_book(_LISTING))
    assert [row[0] for row in rows[:3]] == ["List", "Note one", "=2+2"]
    assert rows[4:] == [["Name", "Value"], ["=1+1", 0.25], ["0012", ""], ["1/2", 3.0]]


def test_the_same_list_is_the_same_file() -> None:
    assert listing_book(_LISTING) == listing_book(_LISTING)


def test_an_empty_list_has_its_columns() -> None:
    assert _rows(listing_book(Listing("List", [], ["Name"], [])))[-1] == ["Name"]
