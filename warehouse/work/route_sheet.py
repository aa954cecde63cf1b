"""The sheet of a walk (rule W4): its columns, its workbook, and the mapping that reads it back."""

from __future__ import annotations

import io
import json
import math
from collections.abc import Sequence
from datetime import UTC, date, datetime
from importlib.resources import files
from typing import Any
from zoneinfo import ZoneInfo

import xlsxwriter

from schemas.tables.rounds import OBSERVATION, STOP_RESULT
from schemas.units import UNITS, unit_kind

Row = dict[str, Any]
FILLED_IN = (
    "Date", "Time", "Value", "Temperature", "Result", "Observation", "Remarks", "Walked by",
)  # fmt: skip
"""Columns a technician fills in."""
COLUMNS = (
    "Route", "Stop", "Machine", "Position", "Axis", "Expected", "Last on", "Last value",
    "Alert above", "Meter shows", "Date", "Time", "Value", "Temperature", "Result", "Observation",
    "Remarks", "Walked by", "Quantity", "Detector", "Band", "Unit", "Temperature unit", "Meter",
)  # fmt: skip
"""Columns of a sheet, in order."""
_HEADER_LINE = 4
_FACTORS = {"derived-peak": math.sqrt(2), "derived-peak-to-peak": 2 * math.sqrt(2)}
"""From rms, by definition (rule R1); a true peak has no boundary of its own."""
_WIDE = {"Machine": 30, "Remarks": 30, "Expected": 18, "Meter shows": 22}
_FILL = (
    "Fill in the coloured columns. Result blank = measured where there is a value, else "
    "unexplained. Several observations: leak; noise. Nothing here asks for a step past a guard: "
    "what is not safe is 'unsafe'."
)


def faults_of(stops: Sequence[Row]) -> list[str]:
    """What keeps a sheet from being written: a stop that does not say what is read there."""
    return [
        f"stop {row['stop']} of route {row['route']} does not say its {name}"
        for row in stops
        for name in ("quantity", "detector", "unit")
        if row[name] is None
    ]


def sheet_rows(stops: Sequence[Row], day: date | None = None) -> list[Row]:
    """Rows of the sheet, by column, from stops as statement `stops` gives them.

    Values and boundaries are in the unit of the stop's meter. A boundary is of rms: for derived
    peaks it is converted, for other peaks none is shown. `day` fills the dates in.
    """
    return [_sheet_row(row, day) for row in stops]


def _sheet_row(row: Row, day: date | None) -> Row:
    kind = unit_kind(row["quantity"], row["detector"])
    unit = UNITS[kind, row["unit"]]
    zone = ZoneInfo(row["time_zone"])
    alert = row["alert"]
    if alert is not None:
        alert *= _FACTORS.get(row["detector"], 1)
    return {
        "Route": row["route"],
        "Stop": row["stop"],
        "Machine": f"{row['asset']} {row['asset_name']}",
        "Position": row["position"],
        "Axis": row["axis"],
        "Expected": row["expected"],
        "Last on": row["last_at"].astimezone(zone).date().isoformat() if row["last_at"] else None,
        "Last value": _shown(row["last_value"], unit),
        "Alert above": _shown(alert, unit),
        "Meter shows": f"{unit.name}, {row['detector']}",
        "Date": day.isoformat() if day else None,
        "Quantity": row["quantity"],
        "Detector": row["detector"],
        "Band": row["band"],
        "Unit": row["unit"],
        "Temperature unit": row["temperature_unit"],
        "Meter": row["meter"],
    }


def _shown(value: float | None, unit: Any) -> float | None:
    """A canonical value in the unit of the meter, four figures of it."""
    return None if value is None else float(f"{(value - unit.offset) / unit.factor:.4g}")


def workbook(rows: Sequence[Row], title: str) -> bytes:
    """The sheet as XLSX: title, how to fill it in, and one row a stop under the header of row 4."""
    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer, {"in_memory": True}) as book:
        book.set_properties({"title": title, "created": datetime(2025, 1, 1, tzinfo=UTC)})
        sheet = book.add_worksheet("Route")
        head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True})
        open_cell = book.add_format({"bg_color": "#FFF6D5", "border": 1, "num_format": "@"})
        number = book.add_format({"bg_color": "#FFF6D5", "border": 1})
        text = book.add_format({"num_format": "@"})
        sheet.write_string(0, 0, title, book.add_format({"bold": True, "font_size": 14}))
        sheet.write_string(1, 0, _FILL)
        sheet.freeze_panes(_HEADER_LINE, 2)
        sheet.set_landscape()
        sheet.repeat_rows(_HEADER_LINE - 1)
        for column, name in enumerate(COLUMNS):
            sheet.set_column(column, column, _WIDE.get(name, max(10, len(name) + 2)))
            sheet.write_string(_HEADER_LINE - 1, column, name, head)
        for line, row in enumerate(rows, _HEADER_LINE):
            for column, name in enumerate(COLUMNS):
                cell = row.get(name)
                fill = number if name in ("Value", "Temperature") else open_cell
                shape = fill if name in FILLED_IN else text
                _write(sheet, line, column, cell, shape)
        _choices(sheet, len(rows))
    return buffer.getvalue()


def _write(sheet: Any, line: int, column: int, cell: Any, shape: Any) -> None:
    """Codes and times as text, so that no spreadsheet turns them into dates or numbers."""
    if cell is None:
        sheet.write_blank(line, column, None, shape)
    elif isinstance(cell, float):
        sheet.write_number(line, column, cell)
    else:
        sheet.write_string(line, column, str(cell), shape)


def _choices(sheet: Any, count: int) -> None:
    """The codes to choose from; other text may stand there, and is refused when it comes back."""
    for name, codes in (("Result", STOP_RESULT), ("Observation", OBSERVATION)):
        column = COLUMNS.index(name)
        listed = {"validate": "list", "source": list(codes), "error_type": "warning"}
        sheet.data_validation(_HEADER_LINE, column, _HEADER_LINE + count - 1, column, listed)


def sheet_mapping(zone: str, route: str | None = None) -> str:
    """TOML of the mapping that reads filled sheets of a site in that IANA time zone.

    With `route` those of that route only: stops of another are refused.
    """
    shipped = (files("warehouse.work") / "route_sheet.toml").read_text(encoding="utf-8")
    text = shipped.replace('zone = "Europe/Vienna"', f'zone = "{zone}"')
    return text if route is None else f"{text}route = {json.dumps(route, ensure_ascii=False)}\n"
