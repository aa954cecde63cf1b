"""The look of a route sheet: a workbook, or the same as CSV."""

from __future__ import annotations

import csv
import io
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import xlsxwriter

from ingest_examples.generator.model import Route

if TYPE_CHECKING:
    from ingest_examples.generator.route import Row

HEADER = (
    "Route", "Stop", "Machine", "Location", "Date", "Time", "Overall", "Unit", "Temp F",
    "Remarks", "Not measured", "Meter",
)  # fmt: skip
"""Columns where date and time are apart; a date-only sheet leaves `Time` out."""
SHORT = {
    "not running": "NR",
    "no access": "NA",
    "unsafe": "US",
    "no time": "NT",
    "meter fault": "MF",
}
"""Words of the date-only sheet for its reasons."""
_ABOUT = "invented example data; not measured anywhere"
_UNIT = "in/s pk"
_STOP_AS_DATE = date(2025, 5, 3)


def workbook(route: Route, rows: list[Row], *, timed: bool) -> bytes:
    """An XLSX file: title, blank line, header in line 3, one row a stop; identical every time."""
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    book.set_properties({"title": _ABOUT, "created": datetime(2025, 1, 1, tzinfo=UTC)})
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    clock = book.add_format({"num_format": "hh:mm"})
    sheet = book.add_worksheet("Route")
    book.add_worksheet("About").write_string(0, 0, _ABOUT)
    sheet.write_string(0, 0, f"Route sheet {route.route}")
    header = [h for h in HEADER if timed or h != "Time"]
    at = {name: i for i, name in enumerate(header)}
    for name, i in at.items():
        sheet.write_string(2, i, name)
    for line, row in enumerate(rows, start=3):
        texts = _texts(route, row, timed)
        for name in header:
            if text := texts.get(name):
                sheet.write_string(line, at[name], text)
        if row.typed_date:
            sheet.write_datetime(line, at["Stop"], _STOP_AS_DATE, day)
        sheet.write_datetime(line, at["Date"], row.at.date(), day)
        if timed:
            sheet.write_datetime(line, at["Time"], row.at.time(), clock)
        for name, value in (("Overall", row.velocity), ("Temp F", row.temperature)):
            if value is not None:
                sheet.write_number(line, at[name], value)
    book.close()
    return buffer.getvalue()


def _texts(route: Route, row: Row, timed: bool) -> dict[str, str]:
    reason = row.reason if timed else SHORT.get(row.reason, row.reason)
    return {
        "Route": route.route,
        "Stop": "" if row.typed_date else row.stop,
        "Machine": row.machine,
        "Location": row.location,
        "Unit": _UNIT,
        "Remarks": row.note,
        "Not measured": reason,
        "Meter": route.meter,
    }


def csv_sheet(route: Route, rows: list[Row]) -> bytes:
    """The same sheet as CSV: a comment line, then the header."""
    buffer = io.StringIO()
    buffer.write(f"{_ABOUT}\n")
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(HEADER)
    for row in rows:
        texts = _texts(route, row, True) | {
            "Stop": row.stop,
            "Date": f"{row.at:%Y-%m-%d}",
            "Time": f"{row.at:%H:%M}",
            "Overall": "" if row.velocity is None else f"{row.velocity:.4f}",
            "Temp F": "" if row.temperature is None else f"{row.temperature:.1f}",
        }
        writer.writerow([texts[name] for name in HEADER])
    return buffer.getvalue().encode()
